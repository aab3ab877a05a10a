// What views of one machine share that go on without a network: the core, and this phone's own entries about the machine.
import { useCallback, useEffect, useEvent, useState } from "./ui.js";
import { loadCore } from "./core.mjs";
import { changes, store } from "./record.js";

let core = null; // promise of the core; asked for anew after a failure

/** The core as WebAssembly, or null where it can't be had. */
export function theCore() {
  core ??= loadCore(fetch("core.wasm")).catch(() => { core = null; return null; });
  return core;
}

/** {core, entries}: entries made here about the machine, {id, kind, body, at, by, here: state}; null until they are read. */
export function useHere(serial) {
  const [now, set] = useState(null);
  const look = useCallback(() => {
    if (serial) {
      Promise.all([theCore(), store().then((s) => s?.entries({ machine: serial }) ?? [])]).then(([c, rows]) => set({ core: c, entries: rows.map((r) => ({ ...r.entry, here: r.state })) }));
    }
  }, [serial]);
  useEffect(() => { look(); }, [look]);
  useEvent("change", look, changes);
  return now;
}
