// Use without a network: the service worker, which machines are kept on this phone, and why it is not possible where it isn't.
import { address } from "./api.js";
import { knowMachines, session, store, whyNotOffline } from "./record.js";

/** "change": what is kept has changed, or a newer edition of the page is here. */
export const keeping = new EventTarget();
const tell = () => keeping.dispatchEvent(new Event("change"));

const REFRESH = 3600000; // machines kept are asked for again after so long

let now = { ready: false, why: [], fresh: false, asOf: null };
/** {ready: the page opens without a network; why: what stands against it (keys of words offline.why.*); fresh: a newer edition
 *  of the page takes effect when it is opened again; asOf: time of a kept answer that is shown because the depot is silent}. */
export const keepingNow = () => now;

function set(news) {
  now = { ...now, ...news };
  tell();
}

/** Begins: once, when the page has drawn. */
export async function startKeeping() {
  addEventListener("witmark:kept", (event) => set({ asOf: event.detail }));
  addEventListener("witmark:answered", () => now.asOf && set({ asOf: null }));
  set({ why: await whyNotOffline() });
  session({ fresh: true }).catch(() => {}); // who is at work has to be known without a network too
  if (!("serviceWorker" in navigator)) {
    return;
  }
  navigator.serviceWorker.addEventListener("message", (event) => event.data?.edition === "new" && set({ fresh: true }));
  try {
    await navigator.serviceWorker.register("sw.js");
    await navigator.serviceWorker.ready;
    set({ ready: true });
    await sayMachines();
    await refresh();
  } catch {
    set({ why: [...now.why, "no-service-worker"] });
  }
}

// Tells the service worker which machines to keep answers about.
async function sayMachines() {
  const s = await store();
  const list = s ? await s.kept() : [];
  const worker = (await navigator.serviceWorker.ready).active;
  const channel = new MessageChannel();
  const heard = new Promise((resolve) => { channel.port1.onmessage = resolve; });
  worker.postMessage({ machines: list.map(({ machine, name }) => ({ machine, name })) }, [channel.port2]);
  await heard;
}

async function get(parts, query) {
  const answer = await fetch(address(parts, query), { headers: { accept: "application/json" } });
  if (!answer.ok) {
    throw new Error(`${answer.status}`);
  }
  return answer;
}

// What the views around the machines ask for.
async function fetchGeneral() {
  await session({ fresh: true });
  const list = await (await get(["machines"])).json();
  await knowMachines(Array.isArray(list) ? list : list.machines);
  await Promise.all([get(["today"]), get(["today"], { days: 0 }), get(["horizon"]).catch(() => {}), get(["exhaust"]).catch(() => {}), get(["shelf"]).catch(() => {}),
    ...["traces", "faults", "books", "put-back", "calendar"].map((what) => get([what]).catch(() => {}))]);
}

// What a machine's views and its rounds ask for.
async function fetchAll(name) {
  const machine = await (await get(["machines", name])).json();
  const scopes = ["due", "daily", ...(machine.card?.services ?? []).map((s) => s.name).filter((s) => s !== "daily")];
  const figures = new Set((machine.figures ?? machine.card?.figures ?? []).map((f) => f.name));
  for (const scope of scopes) { // one after the other: a round takes the depot up to a second
    for (const figure of (await (await get(["machines", name, "round", "work"], { scope })).json().catch(() => ({}))).figures ?? []) {
      figures.add(figure.name);
    }
  }
  await get(["machines", name, "exhaust"]).catch(() => {}); // machines without a filter have none
  await Promise.all([get(["machines", name, "round"], { scope: "due" }), get(["machines", name, "round"], { scope: "daily" }), get(["machines", name, "book"]), get(["machines", name, "trace"]).catch(() => {}), get(["machines", name, "adjusters"]), get(["machines", name, "put-back"]), get(["machines", name, "recover"]).catch(() => {}), ...[...figures].map((figure) => get(["machines", name, "figures", figure]))]);
  return machine;
}

/** Machines kept on this phone: [{machine: serial, name, site, refreshed}]. */
export async function keptMachines() {
  return (await (await store())?.kept()) ?? [];
}

/** Keeps a machine, by serial number or label, and fetches what its views need. */
export async function keepMachine(name) {
  const s = await store();
  if (!s) {
    throw new Error("nothing can be kept here");
  }
  const answer = await (await fetch(address(["machines", name]))).json();
  await s.putKept({ machine: answer.serial, name: answer.name, site: answer.site, refreshed: null });
  await navigator.storage?.persist?.();
  await sayMachines();
  await fetchGeneral();
  await fetchAll(answer.name);
  await s.putKept({ machine: answer.serial, name: answer.name, site: answer.site, refreshed: new Date().toISOString() });
  tell();
}

/** Lets a machine go. */
export async function letGo(serial) {
  await (await store())?.dropKept(serial);
  await sayMachines();
  tell();
}

/** Keeps all machines of a site; progress(done, of) is called after each. */
export async function keepSite(site, progress = () => {}) {
  const list = await (await fetch(address(["machines"]))).json();
  const of = (Array.isArray(list) ? list : list.machines).filter((m) => m.site === site);
  for (const [i, m] of of.entries()) {
    await keepMachine(m.name);
    progress(i + 1, of.length);
  }
}

/** Fetches anew what is kept and old; nothing when the depot is silent. */
export async function refresh(older = REFRESH) {
  const s = await store();
  const list = s ? await s.kept() : [];
  if (list.length) {
    await fetchGeneral().catch(() => {});
  }
  for (const kept of list) {
    if (!kept.refreshed || Date.now() - Date.parse(kept.refreshed) > older) {
      try {
        await fetchAll(kept.name);
        await s.putKept({ ...kept, refreshed: new Date().toISOString() });
      } catch {
        return; // the depot is silent: what is kept stays
      }
    }
  }
}
