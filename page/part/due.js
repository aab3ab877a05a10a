// Lines of what is due. Each opens to tell why: the chain of reasons, asked for when it is opened.
import { classes, html, useId, useState } from "../lib/ui.js";
import { lines } from "../lib/group.js";
import { quantity } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Plate, machineAddress } from "./plate.js";
import { Strip } from "./strip.js";
import { WhyOf } from "./reasons.js";

/** A button that opens and closes what stands under it; `children` is a function, called when it is open. */
export function Opening({ head, children, label = null }) {
  const [open, set] = useState(false);
  const id = useId();
  return html`<button type="button" class="line" aria-label=${label} aria-expanded=${String(open)} aria-controls=${open ? id : null} onClick=${() => set(!open)}>${head}</button>
    ${open ? html`<div class="below" id=${id}>${children()}</div>` : null}`;
}

const head = (due, label, context) => html`${context.plates ? html`<${Plate} name=${due.name} />` : null}
  <span class=${classes("what", due.kind === "put back" && "open")}><strong>${label}</strong> <span class="says">${quantity(due.says)}</span></span>
  <${Strip} due=${due} day=${context.day} span=${context.span} />`;

const Why = ({ due }) => html`<${WhyOf} machine=${due.name} name=${due.key} />
  <p class="go">${due.machine === null ? html`<a class="button" href="#/shelf">${t("shelf.title")}</a>` : html`<a class="button" href=${machineAddress(due.name)}>${t("machine.named", { name: due.name })}</a>
    <a class="button" href=${machineAddress(due.name, "round")}>${t("round.its")}</a>`}</p>`;

const Line = ({ due, points, context }) => (points
  ? html`<li><${Opening} head=${head(due, t("due.service", { label: due.service_label, n: points.length }), context)}>${() =>
    html`<ul class="lines points">${points.map((p) => html`<${Line} due=${p} context=${{ ...context, plates: false }} />`)}</ul>`}<//></li>`
  : html`<li><${Opening} head=${head(due, due.label, context)}>${() => html`<${Why} due=${due} />`}<//></li>`);

/** context: {day, span, plates}: today, days that a strip shows, whether each line carries its machine's plate. most: of lines. */
export const DueLines = ({ list, most = Infinity, ...context }) => html`<ul class=${classes("lines", context.plates && "plated")}>${lines(list).slice(0, most).map((line) => html`<${Line} ...${line} context=${context} />`)}</ul>`;
