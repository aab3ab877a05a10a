// What every view is made with: preact and htm, and the few hooks of our own. Texts become text nodes, so nothing that comes
// from a depot is ever read as markup.
import { Fragment, createContext, h, render } from "../npm/preact.mjs";
import { useCallback, useContext, useEffect, useId, useLayoutEffect, useMemo, useReducer, useRef, useState } from "../npm/hooks.mjs";
import htm from "../npm/htm.mjs";
import { ask } from "./api.js";
import { settings, watchSettings } from "./settings.js";

export { Fragment, createContext, h, render, useCallback, useContext, useEffect, useId, useLayoutEffect, useMemo, useReducer, useRef, useState };

/** html`<p class="says">${text}</p>` gives an element; <${Part} .../> a component; several roots an array. */
export const html = htm.bind(h);

/** Classes that apply: classes("line", late && "late"). */
export const classes = (...names) => names.filter(Boolean).join(" ");

/** "#/m/B-03/round?scope=due": an address of the page. */
export function to(parts, query = {}) {
  const given = Object.entries(query).filter(([, value]) => value !== null && value !== undefined && value !== "");
  const path = `#/${parts.map(encodeURIComponent).join("/")}`;
  return given.length ? `${path}?${new URLSearchParams(given)}` : path;
}

/** Goes to an address of `to`; `replace` leaves no step to go back to. */
export function go(address, replace = false) {
  if (replace) {
    history.replaceState(null, "", address);
    dispatchEvent(new HashChangeEvent("hashchange"));
  } else {
    location.hash = address;
  }
}

/** The view's title, in the window and for a screen reader. */
export function useTitle(title) {
  useEffect(() => {
    if (title) {
      document.title = `${title}, Witmark`;
    }
  }, [title]);
}

/** Whatever was recorded on this page says so, and every view asks again. Called by lib/record.js. */
export function entryRecorded(entry) {
  dispatchEvent(new CustomEvent("witmark:entry", { detail: entry }));
}

/** Calls back for each event of the window: useEvent("keydown", (e) => ...). */
export function useEvent(name, run, target = globalThis) {
  const now = useRef(run);
  now.current = run;
  useEffect(() => {
    const call = (event) => now.current(event);
    target.addEventListener(name, call);
    return () => target.removeEventListener(name, call);
  }, [name, target]);
}

/** An answer of the API: {data, error, again}. Asked again when the parts change and after every entry; `data` stays until the
 *  new answer is there. parts null: nothing is asked. */
export function useAsk(parts, parameters) {
  const key = parts ? JSON.stringify([parts, parameters ?? {}, settings().language]) : null;
  const [state, setState] = useState({ key: null, data: null, error: null });
  const [turn, setTurn] = useState(0);
  useEffect(() => {
    if (!key) {
      return undefined;
    }
    let mine = true;
    const [p, q] = JSON.parse(key);
    ask(p, q).then((data) => mine && setState({ key, data, error: null }), (error) => mine && setState({ key, data: null, error }));
    return () => {
      mine = false;
    };
  }, [key, turn]);
  const again = useCallback(() => setTurn((n) => n + 1), []);
  useEvent("witmark:entry", again);
  return { data: state.key === key ? state.data : null, old: state.data, error: state.key === key ? state.error : null, again };
}

/** Draws again when a setting changes. */
export function useSettings() {
  const [now, set] = useState(settings());
  useEffect(() => watchSettings(set), []);
  return now;
}

/** True while a media query holds. */
export function useMedia(query) {
  const list = useMemo(() => matchMedia(query), [query]);
  const [holds, set] = useState(list.matches);
  useEvent("change", () => set(list.matches), list);
  return holds;
}

export const PHONE = "(max-width: 48rem)";
