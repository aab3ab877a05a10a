// What the reader has chosen, kept on this device: language, units, how dates are written, light or dark. Pure but for
// localStorage, which may be missing (a node test, a browser that forbids it).

const KEY = "witmark.settings";
const KNOWN = {
  language: ["auto", "en", "es"],
  units: ["depot", "si", "us"],
  dates: ["words", "iso", "day-first", "month-first"],
  scheme: ["auto", "light", "dark"],
};
export const CHOICES = KNOWN;
const watchers = new Set();
let now = read();

function read() {
  let kept = {};
  try {
    kept = JSON.parse(globalThis.localStorage?.getItem(KEY) ?? "{}");
  } catch {
    kept = {};
  }
  return Object.fromEntries(Object.entries(KNOWN).map(([name, list]) => [name, list.includes(kept?.[name]) ? kept[name] : list[0]]));
}

export const settings = () => now;

/** "en" or "es": the one chosen, else the first of the browser's that there is. */
export function languageOf(chosen = now.language, wanted = globalThis.navigator?.languages ?? ["en"]) {
  return chosen !== "auto" ? chosen : wanted.map((w) => w.slice(0, 2).toLowerCase()).find((w) => KNOWN.language.includes(w)) ?? "en";
}

export function setSetting(name, value) {
  if (!KNOWN[name]?.includes(value)) {
    throw new RangeError(`no setting ${name}=${value}`);
  }
  now = { ...now, [name]: value };
  try {
    globalThis.localStorage?.setItem(KEY, JSON.stringify(now));
  } catch {
    // Not kept then, but it holds until the page is closed.
  }
  watchers.forEach((watch) => watch(now));
}

/** Calls back with the settings at each change; gives a function that ends it. */
export function watchSettings(watch) {
  watchers.add(watch);
  return () => watchers.delete(watch);
}
