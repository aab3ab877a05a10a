// Which machine to go round: those with the most that is out or due first. A round under way on this phone is taken up again there.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { quantity } from "../lib/format.js";
import { lines } from "../lib/group.js";
import { t } from "../lib/words.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Answer } from "../part/trouble.js";

/** Machines of today's list with what is out and due now, the worst first: [{name, out, due, open, first}]. Pure. */
export function wanting(dues) {
  const by = new Map();
  for (const due of dues.filter((d) => d.urgency <= 1)) {
    by.set(due.name, [...(by.get(due.name) ?? []), due]);
  }
  const count = (list, has) => lines(list.filter(has)).length;
  return [...by].map(([name, list]) => ({ name, open: list.filter((d) => d.kind === "put back").length, out: count(list, (d) => d.urgency === 0 && d.kind !== "put back"), due: count(list, (d) => d.urgency === 1), first: list[0] }))
    .sort((a, b) => b.open - a.open || b.out - a.out || b.due - a.due || a.name.localeCompare(b.name));
}

const Row = ({ m, rest = false }) => html`<li class="round-row"><a class="plate-link" href=${machineAddress(m.name)} aria-label=${t("machine.named", { name: m.name })}><${Plate} name=${m.name} /></a>
  <span class="what"><strong>${rest ? t("rounds.nothing") : [m.out ? t("rounds.out", { n: m.out }) : "", m.due ? t("rounds.due", { n: m.due }) : "", m.open ? t("putback.count", { n: m.open }) : ""].filter(Boolean).join(", ")}</strong>${rest ? null : html` <span class="says">${m.first.label}: ${quantity(m.first.says)}</span>`}</span>
  <a class=${rest ? "button" : "button main"} href=${`${machineAddress(m.name, "round")}?scope=${rest ? "daily" : "due"}`}>${t(rest ? "round.daily" : "round.title")}<span class="unseen"> ${m.name}</span></a></li>`;

export default function Rounds() {
  const today = useAsk(["today"], { days: 0 });
  const machines = useAsk(["machines"]);
  useTitle(t("rounds.title"));
  const both = { error: today.error ?? machines.error, data: today.data && machines.data ? today.data : null };
  return html`<${Answer} whole of=${both}>${(list) => {
    const rows = wanting(list.due);
    const rest = machines.data.filter((m) => !m.out_of_service && !rows.some((r) => r.name === m.name));
    return html`<div class="lead"><h1>${t("rounds.title")}</h1><p>${t("rounds.says")}</p></div><ul class="sheet rounds">${rows.map((m) => html`<${Row} key=${m.name} m=${m} />`)}${rest.map((m) => html`<${Row} key=${m.name} m=${m} rest />`)}</ul>
      ${rows.length + rest.length ? null : html`<p class="sheet empty">${t("machines.none")}</p>`}`;
  }}<//>`;
}
