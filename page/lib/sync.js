// Sends what this phone has written to the depot: when there is a network, in batches, in any order, twice without harm. It
// works in the foreground, so that entries are safe with or without a service worker.
import { trouble } from "./store.js";

const BATCH = 200; // entries of one request
const FIRST_WAIT = 2000;
const LONGEST_WAIT = 60000;
const ANSWER_WITHIN = 60000;
const PLANNERS = ["plan", "books"];
const CLOCK_OFF = 120000; // a clock so many milliseconds off is worth a word

export class Sync extends EventTarget {
  #store;
  #session;
  #fetch;
  #waiting = 0;
  #timer = null;
  #running = null;
  #again = false;

  /** session: () => Promise of {csrf} as /api/session gives it. */
  constructor(store, session, ask = within) {
    super();
    this.#store = store;
    this.#session = session;
    this.#fetch = ask;
    /** How it stands: {state: "idle" | "sending" | "away" | "login", clock_ms: how far this phone's clock is ahead, or null,
     *  others: people who must sign in for their entries to be sent}. */
    this.status = { state: "idle", clock_ms: null, others: [] };
  }

  /** Begins to send by itself: now, when there is a network again, when the page is looked at again. */
  start() {
    addEventListener("online", () => this.now());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.now());
    this.now();
  }

  /** Sends what waits; resolves when nothing can be done for now. Calls while it works make it look again. */
  now() {
    clearTimeout(this.#timer);
    this.#again = true;
    this.#running ??= this.#work().finally(() => { this.#running = null; });
    return this.#running;
  }

  #say(status) {
    this.status = { ...this.status, ...status };
    this.dispatchEvent(new Event("change"));
  }

  async #work() {
    while (this.#again) {
      this.#again = false;
      try {
        await alone(() => this.#sendAll());
        this.#waiting = 0;
        this.#say({ state: "idle" });
      } catch (error) {
        this.#say({ state: error.kind === "login" ? "login" : "away" });
        this.#later();
        return;
      }
    }
  }

  #later() {
    this.#waiting = Math.min(LONGEST_WAIT, this.#waiting ? this.#waiting * 2 : FIRST_WAIT);
    this.#timer = setTimeout(() => this.now(), this.#waiting * (0.75 + Math.random() / 2));
  }

  async #sendAll() {
    const waiting = await this.#store.entries({ state: "phone" });
    const blobs = await this.#store.waitingBlobs();
    if (!waiting.length && !blobs.length) {
      return;
    }
    this.#say({ state: "sending" });
    const { csrf, name, role } = await this.#session();
    const token = { "x-witmark-token": csrf ?? "" };
    // The depot takes an entry from the one it names, or from somebody who plans; another's waits until that one signs in here.
    const may = (row) => !name || row.entry.by === name || PLANNERS.includes(role);
    const others = [...new Set(waiting.filter((row) => !may(row)).map((row) => row.entry.by))];
    this.#say({ others });
    for (const blob of blobs) { // a photo goes before the entry that names it
      await this.#sendBlob(blob, token);
    }
    const signed = waiting.filter((r) => may(r) && r.entry.sig);
    for (let i = 0; i < signed.length; i += BATCH) {
      await this.#sendSigned(signed.slice(i, i + BATCH), token);
    }
    for (const row of waiting.filter((r) => may(r) && !r.entry.sig)) {
      await this.#store.settle([await recordDirect({ ...row.entry, body: await this.#renamed(row.entry.body) }, token, this.#fetch)]);
    }
    this.dispatchEvent(new Event("arrived"));
  }

  async #sendSigned(rows, token) {
    const body = rows.map((r) => `${JSON.stringify({ entry: r.entry })}\n`).join("");
    const answer = await this.#ask("api/entries", { method: "POST", headers: { "content-type": "application/x-ndjson", ...token }, body });
    const { results } = await answer.json();
    const received = this.#clock(answer);
    await this.#store.settle(results.map((r) => ({
      id: r.id ?? rows[r.line - 1]?.id,
      state: r.state === "refused" ? "refused" : "depot",
      ...(r.state === "refused" ? { what: r.what, right: r.right } : { received: r.received ?? received }),
    })));
  }

  // The depot gave entries that it wrote itself ids of its own; what names them has to name those.
  async #renamed(body) {
    const idOf = async (id) => (await this.#store.entry(id))?.as ?? id;
    const renamed = { ...body };
    for (const name of ["corrects", "about"].filter((n) => body[n])) {
      renamed[name] = await idOf(body[name]);
    }
    if (Array.isArray(body.entries)) {
      renamed.entries = await Promise.all(body.entries.map(idOf));
    }
    return renamed;
  }

  async #sendBlob(blob, token) {
    const answer = await this.#fetch(`api/attachments/${blob.sha256}`, { method: "PUT", headers: { "content-type": blob.type, ...token }, body: blob.bytes });
    if (answer.ok) {
      await this.#store.settleBlob(blob.sha256, { state: "depot", bytes: null });
    } else if (refusal(answer.status)) {
      const problem = await answer.json().catch(() => ({}));
      await this.#store.settleBlob(blob.sha256, { state: "refused", what: problem.detail, right: problem.right });
    } else {
      throw failure(answer);
    }
  }

  async #ask(path, options) {
    const answer = await this.#fetch(path, options);
    if (!answer.ok) {
      throw failure(answer);
    }
    return answer;
  }

  // When the server answered, by its own clock; and how far this phone's is off.
  #clock(answer) {
    const server = Date.parse(answer.headers.get("date") ?? "");
    if (Number.isNaN(server)) {
      return null;
    }
    const off = Date.now() - server;
    this.status.clock_ms = Math.abs(off) > CLOCK_OFF ? off : 0;
    return new Date(server).toISOString();
  }
}

// A depot that takes the request and never answers must not hold the queue.
const within = (path, options) => fetch(path, { ...options, signal: AbortSignal.timeout(ANSWER_WITHIN) });

const alone = (work) => (globalThis.navigator?.locks ? navigator.locks.request("witmark-send", work) : work());

// Asking again would not help, and it is the entry's fault.
const refusal = (status) => status >= 400 && status < 500 && ![401, 403, 404, 408, 409, 425, 429].includes(status);

function failure(answer) {
  return answer.status === 401 || answer.status === 403
    ? trouble("login", "The depot wants to know who you are.", "Sign in; what was entered is kept on this phone meanwhile.")
    : trouble("away", `The depot answered ${answer.status}.`, "It is sent again by itself.");
}

/** Has the depot's own writer make the entry. {id, state, what?, right?}; throws when the depot is not to be had. */
export async function recordDirect(entry, token, ask = within) {
  const { id, at, by, machine, kind, body } = entry;
  const answer = await ask("api/record", { method: "POST", headers: { "content-type": "application/json", ...token }, body: JSON.stringify({ id, at, by, machine, kind, body }) });
  if (answer.ok) {
    const { id: kept } = await answer.json().catch(() => ({}));
    return { id, state: "depot", as: kept, received: new Date(Date.parse(answer.headers.get("date")) || Date.now()).toISOString() };
  }
  if (refusal(answer.status)) {
    const problem = await answer.json().catch(() => ({}));
    return { id, state: "refused", what: problem.detail ?? `the depot answered ${answer.status}`, right: problem.right };
  }
  throw failure(answer);
}
