// A caution with its signal word and symbol (ANSI Z535.4, ISO 3864-2): colour never stands alone. A notice has no triangle,
// since it is not about injury.
import { drawn, element } from "../lib/element.js";

const LEVELS = ["DANGER", "WARNING", "CAUTION", "NOTICE"];

function triangle() {
  return drawn("svg", { class: "triangle", viewBox: "0 0 24 22", "aria-hidden": "true" },
    drawn("path", { class: "triangle-ground", d: "M12 1 23 21H1z" }),
    drawn("path", { class: "triangle-mark", d: "M10.6 7.5h2.8l-.5 7h-1.8zM10.7 16h2.6v2.5h-2.6z" }));
}

export function caution({ level, say }) {
  const known = LEVELS.includes(level) ? level : "WARNING";
  return element("div", { class: `caution ${known.toLowerCase()}`, role: "note" },
    element("p", { class: "signal" }, known === "NOTICE" ? null : triangle(), known),
    element("p", { class: "say" }, say));
}

/** The worst first, as one block; null when there are none. */
export function cautions(list) {
  if (!list?.length) {
    return null;
  }
  return [...list].sort((a, b) => LEVELS.indexOf(a.level) - LEVELS.indexOf(b.level)).map(caution);
}
