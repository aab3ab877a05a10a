// All machines, each by its plate.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { dayWords, hours } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Tables } from "../part/tables.js";
import { Answer } from "../part/trouble.js";

const says = (m) => [m.out_of_service ? t("machine.out_of_service") : "", m.open ? t("putback.count", { n: m.open }) : "", m.faults ? t("count.faults", { n: m.faults }) : ""].filter(Boolean).join(", ");

const Row = ({ m }) => html`<li><a href=${machineAddress(m.name)}><${Plate} name=${m.name} />
  <span class="what"><strong>${m.book.title || m.trouble || m.book.id}</strong> <span class="says">${[m.serial, m.site].filter(Boolean).join(", ")}</span></span>
  <span class="figure">${hours(m.meter.today_h)}${m.meter.read_at_local ? html`<span class="says">${t("machine.read_on", { day: dayWords(m.meter.read_at_local) })}</span>` : null}</span>
  <span class="worst">${says(m)}</span></a></li>`;

export default function Machines() {
  const answer = useAsk(["machines"]);
  useTitle(t("machines.title"));
  return html`<${Answer} whole of=${answer}>${(list) => html`
    <div class="lead"><h1>${t("machines.title")}</h1><p>${t("count.machines", { n: list.length })}</p><${Tables} parts=${["machines"]} /></div>
    ${list.length ? html`<ul class="sheet machines">${list.map((m) => html`<${Row} key=${m.serial} m=${m} />`)}</ul>` : html`<p class="sheet empty">${t("machines.none")}</p>`}`}<//>`;
}
