// One machine: its plate, the plan view, what runs out next, what applies to its serial number, the last entries.
import { go, html, to, useAsk, useState, useTitle } from "../lib/ui.js";
import { address, may } from "../lib/api.js";
import { dayNumber, dayWords, hours, quantity } from "../lib/format.js";
import { lines } from "../lib/group.js";
import { t } from "../lib/words.js";
import { CardTables } from "../part/card.js";
import { Drawing, placeOn } from "../part/drawing.js";
import { DueLines } from "../part/due.js";
import { Entry, withPhotos } from "../part/entry.js";
import { Glyph } from "../part/glyph.js";
import { KeepButton } from "../part/offline.js";
import { machineAddress } from "../part/plate.js";
import { Plot } from "../part/plot.js";
import { PutBackBar } from "../part/putback.js";
import { OpenTraces } from "../part/traces.js";
import { Answer, Trouble } from "../part/trouble.js";
import { Zoom } from "../part/zoom.js";

const SPAN = 90; // days that a strip shows
const ENTRIES = 10;

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

/** What one does with a machine. A way that no view stands behind yet is not shown. */
function Doors({ m, paths, who }) {
  const ways = ["round", "faults", "trace", "adjust", "exhaust", "recover", "putback"].filter((way) => paths.includes(`/m/:name/${way}`) && (way !== "exhaust" || m.exhaust));
  return html`<p class="go doors"><a class="button main" href=${machineAddress(m.name, "round")}>${t("round.title")}</a>
    ${may(who, "record") ? html`<a class="button" href=${machineAddress(m.name, "record")}>${t("record.title")}</a>` : null}
    ${ways.filter((way) => way !== "round").map((way) => html`<a class="button" href=${machineAddress(m.name, way)}>${t(`door.${way}`)}</a>`)}
    <a class="button" href=${machineAddress(m.name, "card")}>${t("door.card")}</a><a class="button" href=${machineAddress(m.name, "manual")}>${t("door.manual")}</a>
    <a class="button quiet" href=${address(["machines", m.name, "sheet.pdf"])}>${t("machine.sheet")}</a><a class="button quiet" href=${address(["machines", m.name, "label.pdf"])}>${t("machine.label")}</a>
    <${KeepButton} name=${m.name} serial=${m.serial} /></p>`;
}

/** Places of the book on its plan view with what is checked there: [{number, x, y, place, points: [{point, due}], look}]. Pure. */
export function spots(card, dues, figure) {
  const list = [];
  for (const place of card.places ?? []) {
    const points = (card.checkpoints ?? []).filter((c) => c.place === place.label).map((point) => ({ point, due: dues.find((d) => d.key === point.name && d.urgency <= 2) ?? null }));
    const at = points.length ? placeOn(figure, card.places, place) : null;
    if (at) {
      const worst = Math.min(...points.map((p) => p.due?.urgency ?? 3));
      list.push({ ...at, place, points, worst, label: place.label, look: worst === 0 ? "out" : worst <= 2 ? "due" : "plain" });
    }
  }
  return list.sort((a, b) => a.worst - b.worst).map((s, i) => ({ ...s, number: i + 1 }));
}

const stateWord = (due) => t(due.urgency === 0 ? "strip.out" : due.urgency === 1 ? "strip.today" : "strip.close");

function Plan({ m }) {
  const figure = m.card.figures?.find((f) => f.name === "plan");
  const [picked, setPicked] = useState(null);
  if (!figure) {
    return null;
  }
  const marks = spots(m.card, m.due, figure);
  const spot = marks.find((s) => s.number === picked) ?? null;
  const wanting = marks.filter((s) => s.worst <= 2);
  return html`<section class="sheet plan" aria-labelledby="plan-title"><h2 id="plan-title">${figure.title}</h2>
    <div class="plan-body"><${Zoom} label=${t("zoom.of", { what: figure.title })}>${(scale) => html`<div class="plan-drawing" style=${{ "--scale": scale }}><${Drawing} machine=${m.name} figure=${figure} marks=${marks} description=${t("machine.figure_of", { figure: figure.title, machine: m.book.title })} picked=${picked} onPick=${(s) => setPicked(s.number === picked ? null : s.number)} /></div>`}<//>
    <div class="plan-says" aria-live="polite">${spot ? html`<h3><span class=${`mark ${spot.look}`} aria-hidden="true">${spot.number}</span> ${spot.label}</h3>
      <ul class="plan-points">${spot.points.map(({ point, due }) => html`<li><${Glyph} system=${point.system} kind="checkpoint" /><span><strong>${point.label}</strong> <span class="says">${due ? quantity(due.says) : point.every ? t("machine.every", { every: point.every.says }) : ""}</span></span>${due ? html`<a class="why-link" href=${machineAddress(m.name, "why", point.name)}>${t("why")}<span class="unseen"> ${point.label}</span></a>` : null}</li>`)}</ul>`
    : wanting.length ? html`<ol class="legend">${wanting.map((s) => html`<li><button type="button" class="legend-line" onClick=${() => setPicked(s.number)}><span class=${`mark ${s.look}`} aria-hidden="true">${s.number}</span>
      <span><strong>${s.label}</strong> <span class="says">${s.points.filter((p) => p.due).slice(0, 3).map((p) => `${p.point.label}: ${stateWord(p.due)}`).join("; ")}${s.points.filter((p) => p.due).length > 3 ? ` ${t("and_more", { n: s.points.filter((p) => p.due).length - 3 })}` : ""}</span></span></button></li>`)}</ol>` : html`<p class="empty">${t("machine.nothing_out")}</p>`}</div></div></section>`;
}

function Next({ m, day }) {
  const list = m.due.filter((d) => d.kind !== "put back");
  const soon = list.filter((d) => d.urgency <= 1 || d.kind === "reading" || dayNumber(d.reserve.p50) - dayNumber(day) <= SPAN);
  const [most, setMost] = useState(8);
  const later = list.length - soon.length;
  const n = lines(soon).length;
  return html`<section class="sheet group" aria-labelledby="next-title"><h2 id="next-title">${t("machine.next")}<span class="note">${t("strip.span", { n: SPAN })}</span></h2>
    ${soon.length ? html`<${DueLines} list=${soon} most=${most} day=${day} span=${SPAN} />${n > most ? html`<p class="go inside"><button type="button" class="button" onClick=${() => setMost(n)}>${t("more", { n: n - most })}</button></p>` : null}` : html`<p class="empty">${t("machine.next.none", { days: SPAN })}</p>`}
    ${later ? html`<p class="empty">${t("machine.later", { n: later })}</p>` : null}</section>`;
}

function Card({ m }) {
  return m.card.fluids ? html`<section class="sheet card" aria-labelledby="card-title"><h2 id="card-title">${t("card.title")} <span class="serial">${m.serial}</span><a class="note" href=${machineAddress(m.name, "card")}>${t("card.large")}</a></h2>
    <p class="first-words">${m.card.first_words}</p><${CardTables} card=${m.card} /></section>` : null;
}

/** Pictures of what has been read: those that are out or close first. */
function Trends({ m }) {
  const plots = useAsk(["machines", m.name, "plots"]);
  const [most, setMost] = useState(4);
  const urgency = (name) => m.due.find((d) => d.key === name)?.urgency ?? 3;
  const measured = (name) => m.card.limits?.some((l) => l.name === name);
  const names = (plots.data ?? []).filter(measured).sort((a, b) => urgency(a) - urgency(b));
  const label = (name) => m.card.limits.find((l) => l.name === name).label;
  return names.length ? html`<section class="sheet trends" aria-labelledby="trends-title"><h2 id="trends-title">${t("machine.trends")}</h2>
    <div class="plots">${names.slice(0, most).map((name) => html`<a href=${machineAddress(m.name, "why", name)} key=${name}><${Plot} parts=${["machines", m.name, "plot", `${name}.svg`]} query=${{ width: 640, height: 280 }} title=${label(name)} /></a>`)}</div>
    ${names.length > most ? html`<p class="go inside"><button type="button" class="button" onClick=${() => setMost(names.length)}>${t("more", { n: names.length - most })}</button></p>` : null}</section>` : null;
}

function History({ m, who }) {
  const list = withPhotos(m.entries).slice(0, ENTRIES);
  return html`<section class="sheet history" aria-labelledby="history-title"><h2 id="history-title">${t("machine.history")}<a class="note" href=${to(["log"], { machine: m.name })}>${t("machine.whole_log")}</a></h2>
    ${list.length ? html`<ol class="entries">${list.map(({ e, photos }) => html`<${Entry} key=${e.id} e=${e} photos=${photos} acts=${may(who, "record")} />`)}</ol>` : html`<p class="empty">${t("machine.no_entry")}</p>`}</section>`;
}

export default function Machine({ params, who, paths }) {
  const answer = useAsk(["machines", params.name]);
  const today = useAsk(["today"], { days: 0 });
  useTitle(answer.data?.name ?? params.name);
  const putBack = (i) => go(to(["m", params.name, "record"], { kind: "put-back", what: i.item }));
  const both = { error: answer.error ?? today.error, data: answer.data && today.data ? answer.data : null };
  return html`<${Answer} whole of=${both}>${(m) => html`
    <div class="machine-head"><${DataPlate} m=${m} /><${Doors} m=${m} paths=${paths} who=${who} /></div>
    <${OpenTraces} name=${m.name} />
    ${m.trouble ? html`<${Trouble} error=${{ message: m.trouble }} />` : null}
    <div class="columns even machine-columns"><div><${Plan} m=${m} /><${Trends} m=${m} /></div><div><${Next} m=${m} day=${today.data.day} /><${History} m=${m} who=${who} /></div></div>
    <${Card} m=${m} />
    <${PutBackBar} items=${m.put_back.map((o) => ({ item: o.item, label: o.label, since: o.since_local, by: o.by }))} onBack=${may(who, "record") ? putBack : null} />`}<//>`;
}
