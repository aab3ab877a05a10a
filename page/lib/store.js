// What this device keeps, in IndexedDB: its key and the end of its chain, the entries made here with their state, photos by
// hash, rounds under way, machines kept for use without a network. An entry and the end of the chain it moves are written in
// one transaction: a browser killed in the middle leaves both or neither.
import { START, headOf, newWriter, nextEntry, nextId, whyNoSigning } from "./chain.js";

const NAME = "witmark";
const VERSION = 1;
const CHAIN = "chain"; // key of the one record in "device"

/** An error with what is wrong (message), what would be right, and a word for the program. */
export function trouble(kind, message, right, cause) {
  return Object.assign(new Error(message), { kind, right, cause });
}

function fullOrBroken(error) {
  return error?.name === "QuotaExceededError"
    ? trouble("full", "There is no room left on this phone; nothing was written.", "Free some room (photos, other apps), then enter it again.", error)
    : trouble("store", "This phone could not keep it; nothing was written.", "Enter it again; if it happens again, write it on paper.", error);
}

const done = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** Runs `work(stores)` in one durable transaction; its result once that is on disk. */
function transact(db, names, mode, work) {
  return new Promise((resolve, reject) => {
    const t = db.transaction(names, mode, mode === "readwrite" ? { durability: "strict" } : {});
    let result;
    let failure = null;
    t.oncomplete = () => resolve(result);
    t.onabort = () => reject(failure ?? t.error ?? new Error("stopped"));
    Promise.resolve(work(Object.fromEntries(names.map((name) => [name, t.objectStore(name)]))))
      .then((value) => { result = value; })
      .catch((error) => {
        failure = error;
        try {
          t.abort();
        } catch {
          reject(error); // it has ended already
        }
      });
  });
}

function upgrade(db) {
  db.createObjectStore("device");
  const entries = db.createObjectStore("entries", { keyPath: "id" });
  entries.createIndex("state", "state");
  entries.createIndex("machine", "entry.machine");
  db.createObjectStore("blobs", { keyPath: "sha256" });
  db.createObjectStore("rounds", { keyPath: "id" });
  db.createObjectStore("kept", { keyPath: "machine" });
  db.createObjectStore("settings");
}

function openDatabase(factory) {
  return new Promise((resolve, reject) => {
    const request = factory.open(NAME, VERSION);
    request.onupgradeneeded = () => upgrade(request.result);
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("another tab holds an older version"));
  });
}

/** Runs `work` while no other tab of this device does; without Web Locks at once (what is written is compared anyway). */
const alone = (name, work) => (globalThis.navigator?.locks ? navigator.locks.request(`witmark-${name}`, work) : work());

export class Store extends EventTarget {
  #db;
  #channel;

  /** Opens it. Throws trouble "private" where the browser keeps nothing. */
  static async open(factory = globalThis.indexedDB) {
    try {
      return new Store(await openDatabase(factory));
    } catch (error) {
      throw trouble("private", "This browser window keeps nothing (a private window?).", "Open the page in an ordinary window.", error);
    }
  }

  constructor(db) {
    super();
    this.#db = db;
    db.onversionchange = () => db.close();
    this.#channel = globalThis.BroadcastChannel ? new BroadcastChannel("witmark") : null;
    if (this.#channel) {
      this.#channel.onmessage = () => this.dispatchEvent(new Event("change"));
    }
  }

  close() {
    this.#channel?.close();
    this.#db.close();
  }

  // In this tab and the others.
  #changed() {
    this.dispatchEvent(new Event("change"));
    this.#channel?.postMessage("change");
  }

  #read(name, work) {
    return transact(this.#db, [name], "readonly", (s) => work(s[name]));
  }

  async #write(names, work) {
    try {
      return await transact(this.#db, names, "readwrite", work);
    } catch (error) {
      throw error?.kind ? error : fullOrBroken(error);
    }
  }

  // ---- the chain ----

  /** {privateKey, writer, head} of this device; made the first time. Null where it cannot sign. */
  async #device() {
    const kept = await this.#read("device", (s) => done(s.get(CHAIN)));
    if (kept || (await whyNoSigning())) {
      return kept ?? null;
    }
    const fresh = { ...(await newWriter()), head: START };
    await this.#write(["device"], async ({ device }) => {
      if (!(await done(device.get(CHAIN)))) {
        await done(device.put(fresh, CHAIN));
      }
    });
    return this.#read("device", (s) => done(s.get(CHAIN)));
  }

  /** Writer's key of this device as 64 hex digits, or "" when it has none. */
  async writer() {
    return (await this.#device())?.writer ?? "";
  }

  /** Signs the drafts as the next entries of this device's chain and keeps them, all or none; where it cannot sign they are
   *  kept unsigned, for the depot's own writer. blobs: photos that belong to them, {sha256, type, name, bytes}.
   *  drafts: {kind, machine, by, body, at?, book?, says?} or, for a draft that names those before it, (before) => draft. */
  append(drafts, { now = Date.now(), blobs = [] } = {}) {
    return alone("chain", async () => {
      for (;;) {
        const device = await this.#device();
        const rows = device ? await signed(device, drafts, now) : await this.#unsigned(drafts, now);
        if (await this.#keep(device, rows, blobs)) {
          this.#changed();
          return rows;
        }
      }
    });
  }

  // False when another tab has moved the chain meanwhile (only without Web Locks).
  #keep(device, rows, blobs) {
    return this.#write(["device", "entries", "blobs"], async (s) => {
      if (device) {
        const kept = await done(s.device.get(CHAIN));
        if (kept.head.hash !== device.head.hash) {
          return false;
        }
        await done(s.device.put({ ...kept, head: headOf(rows.at(-1).entry) }, CHAIN));
      }
      for (const blob of blobs) {
        await done(s.blobs.put({ state: "phone", ...blob }));
      }
      for (const row of rows) {
        await done(s.entries.add(row));
      }
      return true;
    });
  }

  async #unsigned(drafts, now) {
    let last = await this.setting("last-id");
    const rows = [];
    for (const given of drafts) {
      const draft = typeof given === "function" ? given(rows.map((r) => r.entry)) : given;
      last = nextId(last ?? null, now);
      const made = new Date(now).toISOString();
      rows.push(row({ id: last, at: draft.at ? new Date(draft.at).toISOString() : made, made, by: draft.by, machine: draft.machine ?? null, kind: draft.kind, body: draft.body }, draft.says));
    }
    await this.setSetting("last-id", last);
    return rows;
  }

  // ---- entries ----

  /** {id, entry, state, what?, right?, received?, says?} or undefined. */
  entry(id) {
    return this.#read("entries", (s) => done(s.get(id)));
  }

  /** All that were made here, oldest first; by machine and state where given. */
  async entries({ machine, state } = {}) {
    const all = await this.#read("entries", (s) => (machine ? done(s.index("machine").getAll(machine)) : state ? done(s.index("state").getAll(state)) : done(s.getAll())));
    return all.filter((r) => !state || r.state === state).sort((a, b) => (a.id < b.id ? -1 : 1));
  }

  /** {phone, depot, refused}: how many are in each state. */
  async counts() {
    const states = ["phone", "depot", "refused"];
    const counts = await this.#read("entries", (s) => Promise.all(states.map((state) => done(s.index("state").count(state)))));
    return Object.fromEntries(states.map((state, i) => [state, counts[i]]));
  }

  /** Notes what became of entries: [{id, state, what?, right?, received?}]. One that is in the depot stays there. */
  async settle(results) {
    await this.#write(["entries"], async ({ entries }) => {
      for (const { id, ...news } of results) {
        const kept = await done(entries.get(id));
        if (kept && kept.state !== "depot") {
          await done(entries.put({ ...kept, what: undefined, right: undefined, ...news }));
        }
      }
    });
    this.#changed();
  }

  /** Lets go of entries that have been in the depot for so long; the chain goes on. */
  async forget(before) {
    await this.#write(["entries"], async ({ entries }) => {
      for (const r of await done(entries.index("state").getAll("depot"))) {
        if (r.entry.made < before) {
          await done(entries.delete(r.id));
        }
      }
    });
  }

  // ---- photos ----

  blob(sha256) {
    return this.#read("blobs", (s) => done(s.get(sha256)));
  }

  async waitingBlobs() {
    return (await this.#read("blobs", (s) => done(s.getAll()))).filter((b) => b.state === "phone");
  }

  settleBlob(sha256, news) {
    return this.#write(["blobs"], async ({ blobs }) => {
      const kept = await done(blobs.get(sha256));
      if (kept) {
        await done(blobs.put({ ...kept, ...news }));
      }
    });
  }

  // ---- rounds, machines kept, settings ----

  round(id) {
    return this.#read("rounds", (s) => done(s.get(id)));
  }

  rounds() {
    return this.#read("rounds", (s) => done(s.getAll()));
  }

  putRound(round) {
    return this.#write(["rounds"], ({ rounds }) => done(rounds.put(round)));
  }

  dropRound(id) {
    return this.#write(["rounds"], ({ rounds }) => done(rounds.delete(id)));
  }

  kept() {
    return this.#read("kept", (s) => done(s.getAll()));
  }

  async putKept(machine) {
    await this.#write(["kept"], ({ kept }) => done(kept.put(machine)));
    this.#changed();
  }

  async dropKept(machine) {
    await this.#write(["kept"], ({ kept }) => done(kept.delete(machine)));
    this.#changed();
  }

  setting(name) {
    return this.#read("settings", (s) => done(s.get(name)));
  }

  setSetting(name, value) {
    return this.#write(["settings"], ({ settings }) => done(settings.put(value, name)));
  }
}

const row = (entry, says) => ({ id: entry.id, entry, state: "phone", says });

async function signed(device, drafts, now) {
  const rows = [];
  let head = device.head;
  for (const given of drafts) {
    const draft = typeof given === "function" ? given(rows.map((r) => r.entry)) : given;
    const entry = await nextEntry(device, head, draft, now);
    head = headOf(entry);
    rows.push(row(entry, draft.says));
  }
  return rows;
}
