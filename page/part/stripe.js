// The witness stripe: the mark of an entry. Both halves in line: signed and safe in the depot. Shifted: only on this phone.
// Torn: refused, or it does not verify. The word stands beside it, or is said to a screen reader.
import { classes, html } from "../lib/ui.js";
import { t } from "../lib/words.js";

const SHAPES = {
  depot: "M3 0h6v9H3zM3 11h6v9H3z",
  phone: "M0 0h6v9H0zM6 11h6v9H6z",
  refused: "M3 0h6v5l-2 2-2-2-2 3zM3 20h6v-5l-2-2-2 3-2-2z",
};

/** state: "depot", "phone" or "refused"; bare: drawn only, its word stands elsewhere; words: show the word too. */
export function Stripe({ state = "depot", bare = false, words = false }) {
  const shape = SHAPES[state] ?? SHAPES.refused;
  const mark = html`<svg class="stripe" viewBox="0 0 12 20" aria-hidden="true"><path d=${shape} /></svg>`;
  if (bare) {
    return mark;
  }
  return html`<span class=${classes("entry-state", state)}>${mark}<span class=${words ? "" : "unseen"}>${t(`stripe.${SHAPES[state] ? state : "refused"}`)}</span></span>`;
}
