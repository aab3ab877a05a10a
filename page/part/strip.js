// The little strip of time beside a line of the list: now at its left edge, a mark where it runs out, a bar from P10 to P90
// where that is known. What is out already is a block of ink. The line's words say the same.
import { drawn, element } from "../lib/element.js";
import { dayNumber } from "../lib/words.js";

/** day: today; span: days that the strip shows. */
export function strip(due, day, span) {
  if (due.urgency === 0) {
    return element("span", { class: "strip out" }, due.kind === "put back" || due.kind === "found" ? "open" : "out");
  }
  if (due.urgency === 1) {
    return element("span", { class: "strip today" }, "today");
  }
  if (due.kind === "reading") {
    return element("span", { class: "strip close" }, "close");
  }
  const now = dayNumber(day);
  const at = (date) => 4 + (Math.min(Math.max(dayNumber(date) - now, 0), span) / span) * 112;
  const r = due.reserve;
  const svg = drawn("svg", { class: "strip time", viewBox: "0 0 120 24", "aria-hidden": "true" },
    drawn("path", { class: "strip-now", d: "M1 2v20" }), drawn("path", { class: "strip-line", d: "M1 12h118" }));
  if (r.p10 && r.p90) {
    svg.append(drawn("path", { class: "strip-bar", d: `M${at(r.p10)} 12H${Math.max(at(r.p90), at(r.p10) + 1)}` }));
  }
  if (r.p50) {
    svg.append(drawn("circle", { class: "strip-mark", cx: at(r.p50), cy: 12, r: 5 }));
  }
  return svg;
}
