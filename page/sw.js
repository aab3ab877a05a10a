// Works without a network: keeps the page's own files, all of one edition, and what the API answered about the machines that the
// reader keeps. A service worker only runs in a secure context; without one the page works online and its queue keeps entries.
//
// Page files come from the kept edition; each opening asks whether there is a newer one, which is fetched whole and then takes
// its place. API answers come from the depot while it answers; if it does not within some seconds, the kept answer is given with
// the time it was kept in the header X-Witmark-Kept.

const ANSWERS = "witmark-answers";
const NOTES = "witmark-notes"; // small facts as responses: which edition of the page, which machines are kept
const PATIENCE = 5000;

const edition = (version) => `witmark-page-${version}`;
const here = (path) => new URL(path, self.registration.scope).href;

async function note(name, value) {
  const cache = await caches.open(NOTES);
  if (value !== undefined) {
    await cache.put(here(`.note/${name}`), new Response(JSON.stringify(value)));
    return value;
  }
  const kept = await cache.match(here(`.note/${name}`));
  return kept ? kept.json() : null;
}

// Fetches the page's files as one edition; true when it is another than before.
async function takeEdition() {
  const { version, files } = await (await fetch(here("files.json"), { cache: "no-store" })).json();
  if (version === (await note("edition"))) {
    return false;
  }
  const cache = await caches.open(edition(version));
  await cache.addAll(files.map((file) => new Request(here(file), { cache: "reload" })));
  await cache.put(here("./"), (await cache.match(here("index.html"))).clone());
  const before = await note("edition");
  await note("edition", version);
  if (before && before !== version) {
    await caches.delete(edition(before));
  }
  return before !== null;
}

async function tell(message) {
  for (const client of await self.clients.matchAll({ includeUncontrolled: true })) {
    client.postMessage(message);
  }
}

// Once for each opening of the page.
async function lookForEdition() {
  try {
    if (await takeEdition()) {
      await tell({ edition: "new" });
    }
  } catch {
    // No network, or no room: the kept edition stays.
  }
}

async function pageFile(request) {
  const version = await note("edition");
  const cache = version ? await caches.open(edition(version)) : null;
  const kept = cache && (await cache.match(request, { ignoreSearch: true, ignoreVary: true }));
  return kept ?? fetch(request);
}

// "today", "machines", or the machine that an address of the API is about.
function about(url) {
  const parts = url.pathname.slice(new URL(here("api/")).pathname.length).split("/").map(decodeURIComponent);
  return parts[0] === "machines" && parts.length > 1 ? parts[1] : parts[0];
}

const LISTS = ["today", "horizon"]; // without a network one of another length is better than none
const GENERAL = ["today", "machines", "horizon", "books", "exhaust", "shelf", "traces", "faults", "put-back", "calendar"];

async function keeps(url) {
  const what = about(url);
  return GENERAL.includes(what) || ((await note("machines")) ?? []).some((m) => m.machine === what || m.name === what);
}

// The kept answer, also when the machine is called by its other name (a label's code says the serial number).
async function keptAnswer(request) {
  const cache = await caches.open(ANSWERS);
  const what = about(new URL(request.url));
  const kept = await cache.match(request, { ignoreVary: true, ignoreSearch: LISTS.includes(what) && !(await cache.match(request, { ignoreVary: true })) });
  const other = kept ? null : ((await note("machines")) ?? []).find((m) => m.machine === what || m.name === what);
  if (!other) {
    return kept;
  }
  const name = other.machine === what ? other.name : other.machine;
  const url = request.url.replace(`/machines/${encodeURIComponent(what)}`, `/machines/${encodeURIComponent(name)}`);
  return cache.match(url, { ignoreVary: true });
}

async function withTime(answer) {
  const headers = new Headers(answer.headers);
  headers.set("x-witmark-kept", new Date().toISOString());
  return new Response(await answer.blob(), { status: answer.status, headers });
}

async function fromDepot(request) {
  const url = new URL(request.url);
  const patience = new Promise((_, reject) => { setTimeout(() => reject(new Error("no answer")), PATIENCE); });
  const kept = await keptAnswer(request);
  const asked = fetch(request);
  try {
    const answer = await (kept ? Promise.race([asked, patience]) : asked);
    if (answer.ok && (await keeps(url))) {
      const copy = answer.clone();
      caches.open(ANSWERS).then(async (cache) => cache.put(request, await withTime(copy))).catch(() => {}); // no room: not kept
    }
    return answer.status >= 500 && kept ? kept : answer;
  } catch (error) {
    if (kept) {
      return kept;
    }
    throw error;
  }
}

self.addEventListener("install", (event) => {
  event.waitUntil(takeEdition().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  const path = url.pathname.slice(new URL(self.registration.scope).pathname.length);
  if (event.request.method !== "GET" || url.origin !== self.location.origin || path === "files.json" || path === "api/session") {
    return;
  }
  if (event.request.mode === "navigate") {
    event.waitUntil(lookForEdition());
  }
  event.respondWith(path.startsWith("api/") ? fromDepot(event.request) : pageFile(event.request));
});

// {machines: [{machine, name}]}: those to keep, by serial number and label; answers about others are let go.
async function keepMachines(machines) {
  await note("machines", machines);
  const cache = await caches.open(ANSWERS);
  for (const request of await cache.keys()) {
    if (!(await keeps(new URL(request.url)))) {
      await cache.delete(request);
    }
  }
}

self.addEventListener("message", (event) => {
  if (event.data?.machines) {
    event.waitUntil(keepMachines(event.data.machines).then(() => event.ports[0]?.postMessage("kept")));
  } else if (event.data?.look) {
    event.waitUntil(lookForEdition());
  }
});
