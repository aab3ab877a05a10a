// One machine: its plate, the plan view, what runs out next, what applies to its serial number, the last entries.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { dayNumber, dayWords, hours, quantity, timeLocal } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Drawing, placeOn } from "../part/drawing.js";
import { DueLines } from "../part/due.js";
import { KeepButton } from "../part/offline.js";
import { machineAddress } from "../part/plate.js";
import { PutBackBar } from "../part/putback.js";
import { Answer } from "../part/trouble.js";

const SPAN = 90; // days that a strip shows
const ENTRIES = 12;

function DataPlate({ m }) {
  const fields = [
    ["serial", m.serial],
    ["hours", m.meter.today_h === null ? t("machine.not_read") : t("machine.hours_now", { now: hours(m.meter.today_h), read: hours(m.meter.read_h), day: dayWords(m.meter.read_at_local) })],
    ["site", m.site],
    ["fitted", m.options.join(", ")],
    ["in_service", dayWords(m.in_service)],
    ["duty", m.severe ? t("machine.severe") : ""],
    ["book", m.book.edition ? t("machine.edition", { title: m.book.title, edition: m.book.edition }) : m.trouble],
  ].filter(([, value]) => value);
  return html`<section class="data-plate" aria-label=${t("machine.plate")}>
    <div class="name"><p class="number">${m.name}</p><h1>${m.book.title || m.book.id}</h1></div>
    <dl>${fields.map(([name, value]) => html`<div><dt>${t(`machine.${name}`)}</dt><dd>${value}</dd></div>`)}</dl></section>`;
}

const Doors = ({ m }) => html`<p class="go"><a class="button main" href=${machineAddress(m.name, "round")}>${t("round.title")}</a>
  <a class="button" href=${address(["machines", m.name, "sheet.pdf"])}>${t("machine.sheet")}</a>
  <a class="button" href=${address(["machines", m.name, "label.pdf"])}>${t("machine.label")}</a>
  <${KeepButton} name=${m.name} serial=${m.serial} /></p>`;

/** Places with something out, due or close, numbered in the order of the list. */
function spots(m, figure) {
  const byPlace = new Map();
  for (const due of m.due.filter((d) => d.urgency <= 2)) {
    const point = m.card.checkpoints?.find((c) => c.name === due.key);
    const place = m.card.places?.find((p) => p.label === point?.place);
    const at = place && placeOn(figure, m.card.places, place);
    if (at) {
      const spot = byPlace.get(place.name) ?? { ...at, place, dues: [] };
      spot.dues.push(due);
      byPlace.set(place.name, spot);
    }
  }
  return [...byPlace.values()].map((s, i) => ({ ...s, number: i + 1, look: s.dues.some((d) => d.urgency === 0) ? "out" : "due" }));
}

function Plan({ m }) {
  const figure = m.card.figures?.find((f) => f.name === "plan");
  if (!figure) {
    return null;
  }
  const marks = spots(m, figure);
  const say = (d) => `${d.label}: ${t(d.urgency === 0 ? "strip.out" : d.urgency === 1 ? "strip.today" : "strip.close")}`;
  return html`<section class="sheet plan" aria-labelledby="plan-title"><h2 id="plan-title">${figure.title}</h2>
    <${Drawing} machine=${m.name} figure=${figure} marks=${marks} description=${t("machine.figure_of", { figure: figure.title, machine: m.book.title })} />
    ${marks.length ? html`<ol class="legend">${marks.map((s) => html`<li><span class=${`mark ${s.look}`} aria-hidden="true">${s.number}</span>
      <span><strong>${s.place.label}</strong><span class="says">${s.dues.slice(0, 3).map(say).join("; ")}${s.dues.length > 3 ? ` ${t("and_more", { n: s.dues.length - 3 })}` : ""}</span></span></li>`)}</ol>`
    : html`<p class="empty">${t("machine.nothing_out")}</p>`}</section>`;
}

function Next({ m, day }) {
  const list = m.due.filter((d) => d.kind !== "put back");
  const soon = list.filter((d) => d.urgency <= 1 || d.kind === "reading" || dayNumber(d.reserve.p50) - dayNumber(day) <= SPAN);
  const later = list.length - soon.length;
  return html`<section class="sheet group" aria-labelledby="next-title"><h2 id="next-title">${t("machine.next")}<span class="note">${t("strip.span", { n: SPAN })}</span></h2>
    ${soon.length ? html`<${DueLines} list=${soon.slice(0, 60)} day=${day} span=${SPAN} />` : html`<p class="empty">${t("machine.next.none", { days: SPAN })}</p>`}
    ${later ? html`<p class="empty">${t("machine.later", { n: later })}</p>` : null}</section>`;
}

const Table = ({ title, heads, rows }) => (rows.length ? html`<div class="table"><table><caption>${title}</caption>
  <thead><tr>${heads.map((h) => html`<th scope="col">${h}</th>`)}</tr></thead>
  <tbody>${rows.map((r) => html`<tr>${r.map((cell, i) => (i ? html`<td>${cell}</td>` : html`<th scope="row">${cell}</th>`))}</tr>`)}</tbody></table></div>` : null);

const withNote = (text, note) => html`${quantity(text)}${note ? html`<span class="says">${quantity(note)}</span>` : null}`;
const heads = (...names) => names.map((name) => t(`card.${name}`));

function Card({ m }) {
  const c = m.card;
  if (!c.fluids) {
    return null;
  }
  return html`<section class="sheet card" aria-labelledby="card-title"><h2 id="card-title">${t("card.title")} <span class="serial">${m.serial}</span></h2>
    <p class="first-words">${c.first_words}</p><div class="tables">
    <${Table} title=${t("card.fluids")} heads=${heads("fluid", "specification", "holds")} rows=${c.fluids.map((f) => [f.label, withNote(f.is, f.note), quantity(f.capacity)])} />
    <${Table} title=${t("card.parts")} heads=${heads("part", "number")} rows=${c.parts.map((p) => [p.label, withNote(p.number, p.instead_of ? t("card.instead_of", { number: p.instead_of }) : "")])} />
    <${Table} title=${t("card.limits")} heads=${heads("reading", "limit")} rows=${c.limits.map((l) => [l.label, withNote(l.limits, l.want ? t("card.want", { want: l.want }) : "")])} />
    <${Table} title=${t("card.torques")} heads=${heads("fastener", "torque")} rows=${c.torques.map((q) => [q.label, withNote(q.torque, [q.thread, q.again_after ? t("card.again", { after: q.again_after }) : ""].filter(Boolean).join(", "))])} />
    <${Table} title=${t("card.fuses")} heads=${heads("position", "rating", "protects")} rows=${c.fuses.map((f) => [f.position, f.rating_a === null ? t("card.relay") : `${f.rating_a} A`, f.protects || f.label])} /></div></section>`;
}

function History({ m }) {
  const list = m.entries.slice(0, ENTRIES);
  return html`<section class="sheet history" aria-labelledby="history-title"><h2 id="history-title">${t("machine.history")}</h2>
    ${list.length ? html`<ol>${list.map((e) => html`<li class=${e.state === "stands" ? null : "taken-back"}><span class="when">${timeLocal(e.at_local)}</span>
      <span>${quantity(e.says)}${e.state === "stands" ? "" : ` (${t(`entry.${e.state}`)})`}</span><span class="by">${e.by}</span></li>`)}</ol>` : html`<p class="empty">${t("machine.no_entry")}</p>`}</section>`;
}

export default function Machine({ params }) {
  const answer = useAsk(["machines", params.name]);
  const today = useAsk(["today"], { days: 0 });
  useTitle(answer.data?.name ?? params.name);
  const both = { error: answer.error ?? today.error, data: answer.data && today.data ? answer.data : null };
  return html`<${Answer} whole of=${both}>${(m) => html`
    <div class="machine-head"><${DataPlate} m=${m} /><${Doors} m=${m} /></div>
    <div class="columns even"><div><${Next} m=${m} day=${today.data.day} /><${History} m=${m} /></div><div><${Plan} m=${m} /></div></div>
    <${Card} m=${m} />
    <${PutBackBar} items=${m.put_back.map((o) => ({ item: o.item, label: o.label, since: o.since_local, by: o.by }))} />`}<//>`;
}
