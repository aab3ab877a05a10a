// A drawing of the book with numbered marks over it, at shares of its width and height.
import { classes, html } from "../lib/ui.js";
import { address } from "../lib/api.js";

/** marks: [{number, x, y, look, label?}] with look "out", "due" or "plain"; onPick(mark): marks are buttons then. */
export function Drawing({ machine, figure, marks, description, onPick = null, picked = null }) {
  const place = (m) => ({ left: `${m.x * 100}%`, top: `${m.y * 100}%` });
  return html`<div class="drawing"><img src=${address(["machines", machine, "figures", figure.name])} alt=${description} loading="lazy" draggable=${false} />
    ${marks.map((m) => (onPick
    ? html`<button type="button" class=${classes("mark-button", picked === m.number && "picked")} style=${place(m)} aria-pressed=${picked === m.number ? "true" : "false"} aria-label=${`${m.number} ${m.label ?? ""}`} onClick=${() => onPick(m)}><span class=${`mark ${m.look}`}>${m.number}</span></button>`
    : html`<span class=${`mark ${m.look}`} style=${place(m)} aria-hidden="true">${m.number}</span>`))}</div>`;
}

/** Where a place lies on a drawing: at its mark, or, for a place that this drawing has no mark of, where its metres fall between
 *  those that it has. Null when that can't be told. */
export function placeOn(figure, places, place) {
  const markOf = (p) => p.figure?.name === figure.name && figure.marks.find((m) => m.number === p.figure.mark);
  const own = markOf(place);
  if (own) {
    return { x: own.x, y: own.y };
  }
  const known = places.map((p) => ({ p, m: markOf(p) })).filter((k) => k.m);
  const x = line(known.map((k) => [k.p.x_m, k.m.x]), place.x_m);
  const y = line(known.map((k) => [k.p.y_m, k.m.y]), place.y_m);
  return x === null || y === null ? null : { x, y };
}

/** Least squares through the pairs, at `at`; null with fewer than three different ones or outside the drawing. */
function line(pairs, at) {
  const n = pairs.length;
  const mean = (k) => pairs.reduce((sum, p) => sum + p[k], 0) / n;
  const [u, v] = [mean(0), mean(1)];
  const spread = pairs.reduce((sum, p) => sum + (p[0] - u) ** 2, 0);
  if (n < 3 || spread < 1e-6 || at === null) {
    return null;
  }
  const value = v + (pairs.reduce((sum, p) => sum + (p[0] - u) * (p[1] - v), 0) / spread) * (at - u);
  return value >= 0 && value <= 1 ? value : null;
}
