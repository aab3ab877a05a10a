// The bracket gauge: brackets at the limits, to scale; the last reading a dot, the figure to aim for a notch. It is drawn for
// the eye; the words beside it say the same.
import { drawn } from "../lib/element.js";

const WIDTH = 260;

/** Null when there is no limit to draw. read: as in the round's document. */
export function gauge(read) {
  const numbers = [read.low, read.high, read.want_value, read.last_value].filter(Number.isFinite);
  if (!Number.isFinite(read.low) && !Number.isFinite(read.high)) {
    return null;
  }
  const least = Math.min(...numbers, Number.isFinite(read.low) ? Infinity : 0);
  const most = Math.max(...numbers);
  const span = most - least || Math.abs(most) || 1;
  const at = (value) => 24 + ((value - least) / span) * (WIDTH - 48);
  const bracket = (value, inward) => drawn("path", { class: "bracket", d: `M${at(value) + 7 * inward} 6h${-7 * inward}v24h${7 * inward}` });
  const label = (value) => drawn("text", { x: at(value), y: 46 }, String(+value.toPrecision(4)));
  const svg = drawn("svg", { class: "gauge", viewBox: `0 0 ${WIDTH} 52`, "aria-hidden": "true" },
    drawn("path", { class: "scale", d: `M10 18H${WIDTH - 10}` }));
  if (Number.isFinite(read.low)) {
    svg.append(bracket(read.low, 1), label(read.low));
  }
  if (Number.isFinite(read.high)) {
    svg.append(bracket(read.high, -1), label(read.high));
  }
  if (Number.isFinite(read.want_value)) {
    svg.append(drawn("path", { class: "want", d: `M${at(read.want_value)} 11v14` }));
  }
  if (Number.isFinite(read.last_value)) {
    svg.append(drawn("circle", { class: "last", cx: at(read.last_value), cy: 18, r: 6 }));
  }
  return svg;
}
