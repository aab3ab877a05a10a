// The put-back list: in sight at the lower edge as long as anything is open.
import { html, useAsk } from "../lib/ui.js";
import { timeLocal } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Stripe } from "./stripe.js";

/** items: [{label, since, by, item?}]; nothing is drawn when nothing is open. onBack(item): a button that puts it back. */
export function PutBackBar({ items, onBack = null }) {
  if (!items?.length) {
    return null;
  }
  return html`<section class="put-back-bar" aria-label=${t("putback.list")}><${Stripe} bare />
    <h2>${t("putback.count", { n: items.length })}</h2>
    <ul>${items.map((i) => html`<li><span><strong>${i.label}</strong> <span>${t("putback.since", { since: timeLocal(i.since) || i.since, by: i.by })}</span></span>
      ${onBack && i.item ? html`<button type="button" class="button small" onClick=${() => onBack(i)}>${t("putback.back")}<span class="unseen"> ${i.label}</span></button>` : null}</li>`)}</ul></section>`;
}

/** In the head of every view while anything is open on any machine: how many, and the way to them. who: the session. */
export function PutBackLink({ who }) {
  const list = useAsk(who?.signed_in ? ["put-back"] : null);
  const n = (list.data ?? list.old)?.length ?? 0;
  return n ? html`<a class="put-back-link" href="#/putback"><${Stripe} bare /><span class="long">${t("putback.count", { n })}</span><span class="short" aria-hidden="true">${n}</span></a>` : null;
}

/** "goes on the put-back list: ..." inside a step. */
export const OpensAndCloses = ({ opens, closes }) => [
  ...(opens ?? []).map((o) => html`<p class="opens"><${Stripe} bare /><span>${t("putback.goes_on")} <strong>${o}</strong></span></p>`),
  ...(closes ?? []).map((c) => html`<p class="closes"><${Stripe} bare /><span>${t("putback.put_back")} <strong>${c}</strong></span></p>`),
];
