// Faults of the fleet: traces that are open, active fault codes, and a machine to begin with.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { dayWords } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Answer } from "../part/trouble.js";

const Trace = ({ trace }) => html`<li><a class="line" href=${machineAddress(trace.name, "trace", trace.symptom)}><${Plate} name=${trace.name} /><strong>${trace.label}</strong>
  <span class="says">${trace.ended ? (trace.cause ? t("fault.traced_to", { cause: trace.cause.replaceAll("-", " "), day: dayWords(trace.ended.slice(0, 10)) }) : t("fault.given_up")) : t("trace.since", { day: dayWords(trace.since.slice(0, 10)) })}</span></a></li>`;

const Code = ({ fault }) => html`<li class="line code"><p><${Plate} name=${fault.name} link /> <strong>${fault.spn === null ? fault.fault : t("fault.code", { spn: fault.spn, fmi: fault.fmi ?? "-" })}</strong> ${fault.active ? "" : t("fault.cleared")}</p>
  <p>${[fault.signal, fault.meaning].filter(Boolean).join(": ")}</p>${fault.reading ? html`<p class="says">${fault.reading}</p>` : null}${fault.text ? html`<p class="says">${t("fault.came_as", { text: fault.text })}</p>` : null}
  <p class="says">${t("fault.times", { n: fault.count, day: dayWords(fault.last.slice(0, 10)) })}</p>
  ${fault.symptoms.map((s) => (s.clue ? html`<p class="says">${t("fault.clue", { what: s.label })}</p>` : html`<p><a class="button" href=${machineAddress(fault.name, "trace", s.name)}>${t("fault.trace", { what: s.label })}</a></p>`))}</li>`;

export default function Faults() {
  useTitle(t("tab.faults"));
  const traces = useAsk(["traces"]);
  const faults = useAsk(["faults"]);
  const machines = useAsk(["machines"]);
  return html`<div class="lead"><h1>${t("tab.faults")}</h1></div><div class="columns two">
    <div><section class="sheet"><h2>${t("trace.open")}</h2><${Answer} of=${traces}>${(list) => {
    const open = list.filter((x) => !x.ended);
    return open.length ? html`<ul class="lines">${open.map((x) => html`<${Trace} trace=${x} />`)}</ul>` : html`<p class="empty">${t("fault.none_open")}</p>`;
  }}<//></section>
    <section class="sheet"><h2>${t("fault.begin")}</h2><${Answer} of=${machines}>${(list) => html`<ul class="plates">${list.filter((m) => !m.out_of_service).map((m) => html`<li><a class="plate-link" href=${machineAddress(m.name, "trace")} aria-label=${t("fault.trace_on", { name: m.name })}><span class="plate">${m.name}</span></a></li>`)}</ul>`}<//></section>
    <section class="sheet"><h2>${t("fault.ended")}</h2><${Answer} of=${traces}>${(list) => {
    const ended = list.filter((x) => x.ended).slice(0, 12);
    return ended.length ? html`<ul class="lines">${ended.map((x) => html`<${Trace} trace=${x} />`)}</ul>` : html`<p class="empty">${t("fault.none_ended")}</p>`;
  }}<//></section></div>
    <section class="sheet"><h2>${t("fault.codes")}</h2><${Answer} of=${faults}>${(list) => (list.length ? html`<ul class="lines">${list.map((f) => html`<${Code} fault=${f} />`)}</ul>` : html`<p class="empty">${t("fault.none")}</p>`)}<//></section></div>`;
}
