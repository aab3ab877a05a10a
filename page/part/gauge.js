// The bracket gauge: brackets at the limits, to scale. The raw reading is a filled dot, the one corrected to its reference an
// open ring, an arrow from one to the other; what is aimed for a notch. Hollow and dashed when it can't be judged. It is drawn
// for the eye; the words beside it say the same.
import { html } from "../lib/ui.js";
import { number } from "../lib/format.js";

const WIDTH = 260;
const known = (list) => list.filter(Number.isFinite);
const shown = (value) => number(value, Math.max(0, Math.min(3, 2 - Math.floor(Math.log10(Math.abs(value) || 1))))).replace(/([.,]\d*?)0+$/, "$1").replace(/[.,]$/, "");

/** The scale of a gauge: a function from a value to x. A missing limit leaves that side open. Pure. */
export function gaugeScale({ low, high, want, raw, corrected }, width = WIDTH) {
  const numbers = known([low, high, want, raw, corrected]);
  const least = Math.min(...numbers, Number.isFinite(low) ? Infinity : 0);
  const most = Math.max(...numbers);
  const span = most - least || Math.abs(most) || 1;
  return (value) => 24 + ((value - least) / span) * (width - 48);
}

/** low, high: limits (either may be null); raw, corrected: the reading; want: to aim for; judged: false when it can't be.
 *  lowText, highText: what stands at the brackets, otherwise their values. */
export function Gauge({ low = null, high = null, want = null, raw = null, corrected = null, judged = true, wide = false, lowText = null, highText = null }) {
  if (!Number.isFinite(low) && !Number.isFinite(high)) {
    return null;
  }
  const at = gaugeScale({ low, high, want, raw, corrected });
  const moved = Number.isFinite(raw) && Number.isFinite(corrected) && Math.abs(at(raw) - at(corrected)) > 14;
  const bracket = (value, inward, text) => html`<path class="bracket" d=${`M${at(value) + 8 * inward} 5h${-8 * inward}v26h${8 * inward}`} /><text x=${at(value)} y="48">${text ?? shown(value)}</text>`;
  return html`<svg class=${wide ? "gauge wide" : "gauge"} viewBox=${`0 0 ${WIDTH} 54`} aria-hidden="true">
    <path class="scale" d=${`M10 18H${WIDTH - 10}`} />
    ${Number.isFinite(low) ? bracket(low, 1, lowText) : null}${Number.isFinite(high) ? bracket(high, -1, highText) : null}
    ${Number.isFinite(want) ? html`<path class="want" d=${`M${at(want)} 11v14`} />` : null}
    ${moved ? html`<path class="moved" d=${`M${at(raw)} 18H${at(corrected)}`} />` : null}
    ${Number.isFinite(corrected) && (moved || !Number.isFinite(raw)) ? html`<circle class="corrected" cx=${at(corrected)} cy="18" r="7" />` : null}
    ${Number.isFinite(raw) ? html`<circle class=${judged ? "raw" : "raw unjudged"} cx=${at(raw)} cy="18" r="7" />` : null}</svg>`;
}

/** The gauge of a round's step or a checkpoint with its last reading. read: as in the round's document. */
export const ReadGauge = ({ read }) => html`<${Gauge} low=${read.low} high=${read.high} want=${read.want_value} raw=${read.last_value} />`;
