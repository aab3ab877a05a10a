// Recording from the page. Every view records through here and nowhere else: the entry is signed and kept on this device first,
// then sent. Where nothing can be kept (a private window, no room left) it goes straight to the depot, or is refused aloud.
//
//   const { entry, state } = await record({ machine: "B-03", kind: "reading", body: { checkpoint, value, unit } });
//   changes.addEventListener("change", ...)         an entry was made, or its state has changed
import { nextId, whyNoSigning } from "./chain.js";
import { Store, trouble } from "./store.js";
import { Sync, recordDirect } from "./sync.js";

/** "change": something was recorded, sent, refused; or how sending stands has changed. */
export const changes = new EventTarget();
const tell = () => changes.dispatchEvent(new Event("change"));
/** To every view: an entry has reached the depot, so that its answers are others now (useAsk asks again). */
const arrived = (entry) => globalThis.dispatchEvent?.(new CustomEvent("witmark:entry", { detail: entry }));

const MOMENT = 1500;

let opened = null; // promise of {store, sync} or of {error}
let asked = null; // promise of the session

async function fetchSession() {
  const answer = await fetch("api/session", { headers: { accept: "application/json" } });
  if (!answer.ok) {
    throw trouble("away", `The depot answered ${answer.status}.`, "It is asked again by itself.");
  }
  return answer.json();
}

/** {depot, name, role, csrf, ...} as /api/session gives it; what was known last when the depot is out of reach. */
export async function session({ fresh = false } = {}) {
  if (fresh || !asked) {
    asked = fetchSession();
    asked.catch(() => { asked = null; });
  }
  const { store } = await parts();
  try {
    const known = await asked;
    if (!known.name) { // not signed in yet: the next one to ask hears anew
      asked = null;
      const before = await store?.setting("session").catch(() => null);
      return { ...known, name: before?.name ?? null };
    }
    await store?.setSetting("session", { ...known, csrf: undefined }).catch(() => {});
    return known;
  } catch (error) {
    const known = await store?.setting("session").catch(() => null);
    if (known) {
      return { ...known, away: true };
    }
    throw error;
  }
}

function parts() {
  opened ??= Store.open().then((store) => {
    const sync = new Sync(store, async () => {
      asked = null;
      return session({ fresh: true });
    });
    store.addEventListener("change", tell);
    sync.addEventListener("arrived", () => arrived(null));
    sync.addEventListener("change", tell);
    sync.start();
    return { store, sync };
  }).catch((error) => ({ error }));
  return opened;
}

/** The store of this device, or null where nothing can be kept. */
export const store = async () => (await parts()).store ?? null;

/** Sends now what waits; resolves when it is through or cannot go on. */
export const sendNow = async () => (await parts()).sync?.now();

/** {phone, depot, refused, state, clock_ms, kept}: how many entries are in which state, how sending stands, and whether this
 *  window keeps anything at all. */
export async function standing() {
  const { store: s, sync } = await parts();
  return s ? { ...(await s.counts()), ...sync.status, kept: true } : { phone: 0, depot: 0, refused: 0, state: "idle", clock_ms: null, kept: false };
}

/** "phone", "depot" or "refused" of an entry made here; of any other "depot". */
export async function entryState(id) {
  const row = await (await parts()).store?.entry(id);
  return row?.state ?? "depot";
}

/** Why this page cannot work without a network, as keys of words: "offline.no-secure-context" ...; empty when it can. */
export async function whyNotOffline() {
  const reasons = [];
  if (!globalThis.isSecureContext) {
    reasons.push("no-secure-context");
  } else if (!("serviceWorker" in navigator)) {
    reasons.push("no-service-worker");
  } else if (await whyNoSigning()) {
    reasons.push("no-ed25519");
  }
  if ((await parts()).error) {
    reasons.push("keeps-nothing");
  }
  return reasons;
}

// ---- machines by any of their names ----

let known = null; // machines as last heard: [{serial, name, label, book}]

/** Remembers what machines there are, so that a label is understood without a network. */
export async function knowMachines(list) {
  known = list.map(({ serial, name, label, book }) => ({ serial, name, label, book: book?.hash ?? null }));
  await (await parts()).store?.setSetting("machines", known).catch(() => {});
}

/** {serial, book} of a machine by serial number or label; as it is when nothing is known about it. */
export async function machineOf(name) {
  const find = (list) => list?.find((m) => m.serial === name || m.name === name || m.label === name);
  known ??= (await (await parts()).store?.setting("machines").catch(() => null)) ?? null;
  if (!find(known)) {
    const answer = await fetch("api/machines").catch(() => null);
    if (answer?.ok) {
      const list = await answer.json();
      await knowMachines(Array.isArray(list) ? list : list.machines);
    }
  }
  return find(known) ?? { serial: name, book: null };
}

// ---- recording ----

// {kind, machine, by, body, at, book, says} with the serial number and the edition in force; a function stays one.
async function draftOf({ machine, kind, body, at, by, says }) {
  const m = machine ? await machineOf(machine) : null;
  const person = by ?? (await session().catch(() => null))?.name;
  if (!person) {
    throw trouble("who", "It is not known who you are.", "Sign in, or say by whom.");
  }
  const edition = m?.book ? (String(m.book).startsWith("sha256:") ? m.book : `sha256:${m.book}`) : null;
  return { kind, body, at, by: person, machine: m?.serial ?? null, book: edition, says };
}

/** Records several entries that belong together: all or none. Items as for record; `body` may be a function of the entries
 *  before it. blobs: photos, {sha256, type, name, bytes}. Returns [{entry, state}]. Throws with what and right. */
export async function recordAll(items, blobs = []) {
  const drafts = [];
  for (const item of items) {
    const draft = await draftOf(item);
    drafts.push(typeof item.body === "function" ? (before) => ({ ...draft, body: item.body(before) }) : draft);
  }
  const { store: s, sync } = await parts();
  try {
    if (!s) {
      throw trouble("private", "This window keeps nothing.", "Open the page in an ordinary window.");
    }
    const rows = await s.append(drafts, { blobs });
    sync.now();
    return rows.map(({ entry, state }) => ({ entry, state }));
  } catch (error) {
    if (error.kind !== "full" && error.kind !== "private") {
      throw error;
    }
    return straight(drafts, blobs, error);
  }
}

// Nothing can be kept here: to the depot at once, or not at all.
async function straight(drafts, blobs, why) {
  const out = [];
  try {
    const { csrf } = await session({ fresh: true });
    const token = { "x-witmark-token": csrf ?? "" };
    for (const blob of blobs) {
      await fetch(`api/attachments/${blob.sha256}`, { method: "PUT", headers: { "content-type": blob.type, ...token }, body: blob.bytes });
    }
    for (const given of drafts) {
      const draft = typeof given === "function" ? given(out.map((r) => r.entry)) : given;
      const entry = { ...draft, id: nextId(out.at(-1)?.entry.id ?? null, Date.now()), at: draft.at ?? new Date().toISOString() };
      const result = await recordDirect(entry, token);
      if (result.state === "refused") {
        throw trouble("refused", result.what, result.right);
      }
      out.push({ entry: { ...entry, id: result.as ?? entry.id }, state: "depot" });
    }
  } catch (error) {
    throw error.kind === "refused" ? error : why;
  }
  tell();
  arrived(out.at(-1)?.entry);
  return out;
}

/** Records one entry: {machine?, kind, body, at?, by?, says?} -> {entry, state}. It waits a moment for the depot, so that a view
 *  that asks again sees it, and one that the depot refuses is an error of the form it came from. */
export async function record(item, blobs = []) {
  const [made] = await recordAll([item], blobs);
  const { store: s, sync } = await parts();
  if (!s || made.state === "depot") {
    return made;
  }
  await Promise.race([sync.now(), new Promise((resolve) => { setTimeout(resolve, MOMENT); })]);
  const row = await s.entry(made.entry.id);
  if (row?.state === "refused") {
    await s.settle([{ id: row.id, state: "noted", what: row.what, right: row.right }]);
    throw trouble("refused", row.what, row.right);
  }
  return { entry: made.entry, state: row?.state ?? "phone" };
}
