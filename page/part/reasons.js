// Why: the answer, then each reason down to the book's line and the log's entry.
import { html, useAsk } from "../lib/ui.js";
import { quantity } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Answer } from "./trouble.js";
import { machineAddress } from "./plate.js";

/** why: {answer, because: [{says, source}]} */
export const Reasons = ({ why }) => html`<div class="reasons"><p class="answer">${quantity(why.answer)}</p>
  <ol>${why.because.map((b) => html`<li>${quantity(b.says)}${b.source ? html`<span class="source">${b.source}</span>` : null}</li>`)}</ol></div>`;

/** The reasons of one figure of a machine, asked for when this is drawn. */
export function WhyOf({ machine, name }) {
  const answer = useAsk(["machines", machine, "why", name]);
  return html`<div class="why" aria-live="polite"><${Answer} of=${answer}>${(why) => html`<${Reasons} why=${why} />`}<//></div>`;
}

/** "why?": every figure has one. */
export const WhyLink = ({ machine, name, what = "" }) => html`<a class="why-link" href=${machineAddress(machine, "why", name)}>${t("why")}<span class="unseen"> ${what || name}</span></a>`;
