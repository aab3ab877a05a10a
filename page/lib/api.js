// Asking the server. Every failure becomes an Error with what is wrong (message) and what would be right (right).

/** "api/machines/B-03/why/100%2F4" from its parts; a null parameter is left out. */
export function address(parts, parameters = {}) {
  const query = new URLSearchParams(Object.entries(parameters).filter(([, value]) => value !== null && value !== undefined && value !== ""));
  const path = ["api", ...parts].map(encodeURIComponent).join("/");
  return query.size ? `${path}?${query}` : path;
}

export async function ask(parts, parameters) {
  let answer;
  try {
    answer = await fetch(address(parts, parameters), { headers: { accept: "application/json" } });
  } catch {
    throw Object.assign(new Error("The server does not answer."), { right: "Start it again with: witmark serve" });
  }
  const body = await answer.json().catch(() => null);
  if (!answer.ok || body === null) {
    throw Object.assign(new Error(body?.detail ?? `The server answered ${answer.status}.`), { right: body?.right ?? "", status: answer.status });
  }
  return body;
}
