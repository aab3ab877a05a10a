// The little strip of time beside a line: now at its left edge, a mark where it runs out over a bar from P10 to P90 where that is
// known. What is out already is a block of ink. The line's words say the same.
import { html } from "../lib/ui.js";
import { dayNumber } from "../lib/format.js";
import { t } from "../lib/words.js";

/** due: a line of `today`; day: today; span: days that the strip shows. */
export function Strip({ due, day, span }) {
  if (due.urgency === 0) {
    return html`<span class="strip out">${t(due.kind === "put back" || due.kind === "found" ? "strip.open" : "strip.out")}</span>`;
  }
  if (due.urgency === 1) {
    return html`<span class="strip today">${t("strip.today")}</span>`;
  }
  if (due.kind === "reading") {
    return html`<span class="strip close">${t("strip.close")}</span>`;
  }
  const now = dayNumber(day);
  const at = (date) => 4 + (Math.min(Math.max(dayNumber(date) - now, 0), span) / span) * 112;
  const r = due.reserve;
  return html`<svg class="strip time" viewBox="0 0 120 24" aria-hidden="true">
    <path class="strip-now" d="M1 2v20" /><path class="strip-line" d="M1 12h118" />
    ${r.p10 && r.p90 ? html`<path class="strip-bar" d=${`M${at(r.p10)} 12H${Math.max(at(r.p90), at(r.p10) + 1)}`} />` : null}
    ${r.p50 ? html`<circle class="strip-mark" cx=${at(r.p50)} cy="12" r="5" />` : null}</svg>`;
}
