// The verdict on a reading at once, on this device: the core as WebAssembly holds it against the lines that the machine's book
// gives for the checkpoint.
import { loadCore } from "./core.mjs";

let core = null;

/** The core, loaded once; null where there is none (an old browser, a program built without it). */
export function theCore() {
  core ??= loadCore(fetch("core.wasm").then((answer) => (answer.ok ? answer : Promise.reject(new Error("no core"))))).catch(() => null);
  return core;
}

/** "limits=8 .. 12 mm\ngauge=..." as the fields that Core.judge takes. Pure. */
export const judgeFields = (lines) => Object.fromEntries(lines.split("\n").filter(Boolean).map((line) => [line.slice(0, line.indexOf("=")), line.slice(line.indexOf("=") + 1)]));

/** The verdict, or {error} with what is wrong; null without a core or a value. together: {name: "31 degC"}. */
export async function judgeReading(checkpoint, value, unit, together) {
  const c = await theCore();
  if (!c || value === "" || !checkpoint.judge) {
    return null;
  }
  try {
    return c.judge({ ...judgeFields(checkpoint.judge), value: `${value} ${unit ?? ""}`.trim(), with: together });
  } catch (error) {
    return { error: { message: error.what ?? error.message, right: error.right ?? "" } };
  }
}
