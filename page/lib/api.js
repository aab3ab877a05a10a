// Asking the server. Every failure becomes an Error with what is wrong (message) and what would be right (right).
import { settings, languageOf } from "./settings.js";
import { t } from "./words.js";

/** "api/machines/B-03/why/100%2F4" from its parts; a null parameter is left out. */
export function address(parts, parameters = {}) {
  const query = new URLSearchParams(Object.entries(parameters).filter(([, value]) => value !== null && value !== undefined && value !== ""));
  const path = ["api", ...parts].map(encodeURIComponent).join("/");
  return query.size ? `${path}?${query}` : path;
}

async function answerOf(request) {
  let answer;
  try {
    answer = await request;
  } catch {
    throw Object.assign(new Error(t("api.silent")), { right: t("api.start_it"), offline: true });
  }
  const kept = answer.headers.get("x-witmark-kept"); // by the service worker: the depot is silent
  dispatchEvent(kept ? new CustomEvent("witmark:kept", { detail: kept }) : new CustomEvent("witmark:answered"));
  const body = await answer.json().catch(() => null);
  if (!answer.ok || body === null) {
    if (answer.status === 401) {
      dispatchEvent(new CustomEvent("witmark:login"));
    }
    throw Object.assign(new Error(body?.detail ?? t("api.status", { status: answer.status })), { right: body?.right ?? "", status: answer.status, body });
  }
  return body;
}

const words = () => ({ accept: "application/json", "accept-language": languageOf(settings().language) });

export const ask = (parts, parameters) => answerOf(fetch(address(parts, parameters), { headers: words() }));

let known = null;

/** Who is signed in: {depot, name, role, csrf, signed_in, login_needed, secure, language, zone}. Asked once; `anew` asks again. */
export function session(anew = false) {
  if (!known || anew) {
    known = ask(["session"]);
    known.catch(() => {
      known = null;
    });
  }
  return known;
}

/** May this session do what needs that role? Each role may do what those before it may. */
export const may = (who, role) => {
  const roles = ["look", "record", "plan", "books"];
  return roles.indexOf(who?.role) >= roles.indexOf(role);
};

/** POST or PUT with the session's token. body: an object goes as JSON, anything else (text, Blob) as it is. */
export async function send(method, parts, body, type = null, headers = {}) {
  const who = await session();
  const plain = typeof body === "string" || body instanceof Blob || body instanceof ArrayBuffer;
  return answerOf(fetch(address(parts), {
    method,
    headers: { ...words(), "content-type": type ?? (plain ? "application/octet-stream" : "application/json"), "x-witmark-token": who.csrf ?? "", ...headers },
    body: plain ? body : JSON.stringify(body ?? {}),
  }));
}
