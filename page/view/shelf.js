// The shelf: what to order, by which day, for what; what lies there.
import { html, useAsk, useState, useTitle } from "../lib/ui.js";
import { dayWords, number } from "../lib/format.js";
import { t } from "../lib/words.js";
import { WhyOf } from "../part/reasons.js";
import { Answer } from "../part/trouble.js";

const pieces = (n) => number(n, Number.isInteger(n) ? 0 : 1);
const SHELF = "Shelf"; // as the depot calls it where a machine is named

const need = (n) => t("shelf.need", { n: pieces(n.pieces), machine: n.name, task: n.label, day: n.overdue ? t("shelf.overdue") : n.p50 ? dayWords(n.p50) : t("shelf.no_day") });

function Part({ part, day }) {
  const [open, setOpen] = useState(false);
  const now = part.order_by !== null && part.order_by <= day;
  const order = part.order > 0 ? t(now ? "shelf.order_now" : "shelf.order_by", { n: number(part.order), day: dayWords(part.order_by) }) : "";
  return html`<li><button type="button" class="line" aria-expanded=${open} onClick=${() => setOpen(!open)}>
    <span class="what"><strong>${part.label}</strong><span class="says">${part.number}${part.runs_out.p50 ? `, ${t("shelf.out", { p50: dayWords(part.runs_out.p50), p10: dayWords(part.runs_out.p10) })}` : ""}</span>${order ? html`<strong class="order">${order}</strong>` : null}</span>
    <span class="figure">${part.counted ? pieces(part.have) : "–"}<span class="says">${part.keep ? t("shelf.keep", { n: number(part.keep) }) : ""}</span></span></button>
    ${open ? html`<div class="below">${part.needs.length ? html`<ul>${part.needs.slice(0, 6).map((n) => html`<li>${need(n)}</li>`)}</ul>` : null}<${WhyOf} machine=${SHELF} name=${part.number} /></div>` : null}</li>`;
}

const Group = ({ id, list, day, none }) => html`<section class="sheet group" aria-labelledby=${`shelf-${id}`}><h2 id=${`shelf-${id}`}>${t(`shelf.${id}`)} <span class="count">${list.length}</span></h2>
  ${list.length ? html`<ul class="lines">${list.map((p) => html`<${Part} key=${p.number} part=${p} day=${day} />`)}</ul>` : html`<p class="empty">${t(none)}</p>`}</section>`;

export default function Shelf() {
  const answer = useAsk(["shelf"]);
  useTitle(t("shelf.title"));
  return html`<${Answer} whole of=${answer}>${(shelf) => html`<div class="lead"><h1>${t("shelf.title")}</h1><p>${dayWords(shelf.day)}</p></div>
    <${Group} id="order" day=${shelf.day} none="shelf.order.none" list=${shelf.parts.filter((p) => p.order > 0)} />
    <${Group} id="there" day=${shelf.day} none="shelf.there.none" list=${shelf.parts.filter((p) => p.counted && !(p.order > 0))} />
    <${Group} id="uncounted" day=${shelf.day} none="shelf.uncounted.none" list=${shelf.parts.filter((p) => !p.counted && p.in_a_book)} />`}<//>`;
}
