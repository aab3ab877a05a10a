// The horizon: the fleet on one sheet of time. On a desk a lane per machine, soonest on top; on a phone the next to run out.
// Lanes are drawn only where they are in sight, so a thousand of them scroll as a dozen do.
import { PHONE, classes, go, html, to, useAsk, useEffect, useEvent, useLayoutEffect, useMemo, useMedia, useRef, useState, useTitle } from "../lib/ui.js";
import { may } from "../lib/api.js";
import { dayNear, dayNumber, dayShort, hours, number, quantity } from "../lib/format.js";
import { ZOOMS, filtered, gutter, inSight, listed, markLabel, markSays, merged, overWords, place, rowed, spanWords, sureWords, ticks, whenWords } from "../lib/horizon.js";
import { t, word } from "../lib/words.js";
import { Glyph } from "../part/glyph.js";
import { Plate, machineAddress } from "../part/plate.js";
import { WhyOf } from "../part/reasons.js";
import { Strip } from "../part/strip.js";
import { Stripe } from "../part/stripe.js";
import { Trouble, Waiting } from "../part/trouble.js";
import { Tables } from "../part/tables.js";
import { PlanVisit, TakeOut } from "../part/visit.js";

const ROW = 52; // px of a lane; the style sheet has it too
const SIGN = 26; // px within which signs become one
const LIST_MOST = 40;

const KINDS = ["put back", "fault", "reading", "found", "torque again", "checkpoint"];
const sorted = (list) => [...new Set(list)].filter(Boolean).sort((a, b) => a.localeCompare(b));

/** One filter: a select whose first choice is all. */
const Choose = ({ name, value, list, onChange }) => html`<label class="choose"><span>${t(`horizon.by.${name}`)}</span>
  <select value=${value ?? ""} onChange=${(e) => onChange(name, e.target.value)}><option value="">${t("all")}</option>${list.map(([key, label]) => html`<option value=${key}>${label}</option>`)}</select></label>`;

function Filters({ answer, filter, onChange }) {
  const lanes = answer.lanes;
  const systems = useMemo(() => sorted(lanes.flatMap((l) => l.marks.map((m) => m.system))), [answer]);
  return html`<${Choose} name="site" value=${filter.site} onChange=${onChange} list=${sorted(lanes.map((l) => l.site)).map((s) => [s, s])} />
    <${Choose} name="family" value=${filter.family} onChange=${onChange} list=${Object.entries(answer.families)} />
    <${Choose} name="system" value=${filter.system} onChange=${onChange} list=${systems.map((s) => [s, word("system", s)])} />
    <${Choose} name="kind" value=${filter.kind} onChange=${onChange} list=${KINDS.map((k) => [k, word("kind", k)])} />
    <${Choose} name="within" value=${filter.within} onChange=${onChange} list=${[7, 14, 30, 60].map((n) => [String(n), t("horizon.days", { n })])} />`;
}

/** Seasons, events, blocked days behind the lanes; grid lines; today. */
function Behind({ answer, days, width }) {
  const bands = answer.calendar.filter((c) => ["season", "event", "blocked"].includes(c.type));
  const x = (date, more = 0) => Math.min(Math.max(place(date, answer.day, days) + more / days, 0), 1) * width;
  return html`<svg class="behind" width=${width} height="100%" aria-hidden="true">
    <defs><pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0v8" class="hatch" /></pattern></defs>
    ${bands.map((c) => html`<rect class=${c.type} x=${x(c.from)} width=${Math.max(0, x(c.to, 1) - x(c.from))} y="0" height="100%" fill=${c.type === "season" ? "url(#hatch)" : null} />`)}
    ${ticks(answer.day, days).map((k) => html`<line class=${k.strong ? "grid strong" : "grid"} x1=${k.at * width} x2=${k.at * width} y1="0" y2="100%" />`)}</svg>`;
}

/** The names of what lies behind, over the lanes in rows that don't collide. */
function BandNames({ answer, days, width }) {
  const bands = answer.calendar.filter((c) => ["season", "event", "blocked"].includes(c.type) && dayNumber(c.to) >= dayNumber(answer.day) && place(c.from, answer.day, days) < 1);
  const rows = [];
  const placed = bands.map((c) => {
    const left = Math.max(0, place(c.from, answer.day, days)) * width;
    const need = c.label.length * 7.2 + 16;
    const at = Math.min(left, Math.max(0, width - need));
    let row = rows.findIndex((end) => end <= at);
    row = row < 0 ? rows.length : row;
    rows[row] = at + need;
    return { c, at, row };
  });
  return html`<ul class="band-names" style=${{ height: `${Math.max(1, rows.length) * 1.35}rem` }}>${placed.map(({ c, at, row }) => html`<li class=${c.type} style=${{ left: `${at}px`, top: `${row * 1.35}rem` }} title=${spanWords(c)}><span class="unseen">${t(`calendar.${c.type}`)}: </span>${c.label}${c.site ? html`<span class="says">, ${c.site}</span>` : null}<span class="unseen">, ${spanWords(c)}</span></li>`)}</ul>`;
}

/** What a mark or a post tells when it is pointed to. */
function Tip({ tip, answer }) {
  const { group, lane, visit } = tip.what;
  const content = visit ? html`<strong>${visit.label}</strong><span>${dayNear(visit.from)}, ${t("horizon.takes", { h: number(visit.hours, visit.hours % 1 ? 1 : 0) })}</span>`
    : group.marks.length === 1 ? html`<strong>${markLabel(group.marks[0])}</strong><span>${whenWords(group.marks[0], answer.day)}</span><span>${[group.marks[0].system ? word("system", group.marks[0].system) : "", sureWords(group.marks[0], answer.chance_on)].filter(Boolean).join(", ")}</span>`
      : html`<strong>${lane.name}: ${t("horizon.points", { n: group.points })}</strong>${group.marks.slice(0, 5).map((m) => html`<span>${markLabel(m)}, ${whenWords(m, answer.day).split(";")[0]}</span>`)}${group.marks.length > 5 ? html`<span>${t("and_more", { n: group.marks.length - 5 })}</span>` : null}`;
  return html`<div class=${classes("tip", tip.right && "left-of")} style=${{ left: `${tip.x}px`, top: `${tip.y}px` }} aria-hidden="true">${content}</div>`;
}

/** One lane. at: the mark the keyboard is on, or -1. */
function Lane({ lane, index, answer, days, width, at, onPoint, onPick }) {
  const out = gutter(lane.marks);
  const groups = useMemo(() => merged(lane.marks, answer.day, days, width, SIGN), [lane, answer, days, width]);
  const bars = useMemo(() => rowed(groups.flatMap((g) => g.bars)), [groups]);
  const visits = answer.calendar.filter((c) => c.type === "visit" && c.machine === lane.serial && dayNumber(c.from) >= dayNumber(answer.day) && place(c.from, answer.day, days) <= 1);
  const item = (i) => ({ tabindex: at === i ? 0 : -1, "data-item": i });
  const first = out[0];
  const offset = out.length ? 1 : 0;
  const outSays = first ? `${out.map((m) => `${markLabel(m)}: ${overWords(m, answer.day)}`).join("; ")}` : "";
  return html`<li class=${classes("lane", lane.out_of_service && "stopped")} style=${{ top: `${index * ROW}px` }} data-lane=${index}>
    <a class="lane-name" href=${machineAddress(lane.name)} tabindex=${at === "name" ? 0 : -1} data-item="name"><${Plate} name=${lane.name} /> <span><span class="family">${answer.families[lane.book] ?? lane.book}</span> <span class="says">${lane.out_of_service ? t("machine.out_of_service") : hours(lane.hours)}${lane.open ? html` <${Stripe} bare />` : null}</span></span></a>
    <span class="lane-out">${first ? html`<button type="button" class=${classes("out-block", first.urgency !== 0 && "close")} ...${item(0)} aria-label=${outSays} onClick=${() => onPick({ lane, marks: out })}><${Glyph} system=${first.system} kind=${first.kind} /><span>${overWords(first, answer.day)}</span>${out.length > 1 ? html`<b>+${out.length - 1}</b>` : null}</button>` : null}</span>
    <span class="lane-time">
      <svg class="bars" width=${width} height=${ROW} aria-hidden="true">${bars.map((b) => html`<line x1=${b.from + 3} x2=${Math.max(b.from + 3, b.to - 3)} y1=${ROW / 2 + 8 * b.row} y2=${ROW / 2 + 8 * b.row} />`)}</svg>
      ${groups.map((g, i) => html`<button type="button" class=${classes("sign", g.marks.length > 1 && "many", g.marks[0].urgency === 1 && "now")} style=${{ left: `${g.at}px` }} ...${item(i + offset)}
        aria-label=${g.marks.length === 1 ? markSays(g.marks[0], answer) : `${t("horizon.points", { n: g.points })}, ${whenWords(g.marks[0], answer.day)}`}
        onMouseEnter=${(e) => onPoint(e, { group: g, lane })} onFocus=${(e) => onPoint(e, { group: g, lane })} onMouseLeave=${() => onPoint(null)} onBlur=${() => onPoint(null)} onClick=${() => onPick({ lane, marks: g.marks })}>
        ${g.marks.length === 1 || g.system ? html`<${Glyph} system=${g.system || g.marks[0].system} kind=${g.marks[0].kind} />` : null}${g.points > 1 ? html`<b>${g.points}</b>` : null}</button>`)}
      ${visits.map((v, i) => html`<button type="button" class="post" style=${{ left: `${place(v.from, answer.day, days) * width}px` }} ...${item(groups.length + offset + i)} aria-label=${`${t("calendar.visit")}: ${v.label}, ${dayNear(v.from)}, ${number(v.hours, 1)} h`}
        onMouseEnter=${(e) => onPoint(e, { visit: v, lane })} onFocus=${(e) => onPoint(e, { visit: v, lane })} onMouseLeave=${() => onPoint(null)} onBlur=${() => onPoint(null)} onClick=${() => onPick({ lane, visit: v })}><svg viewBox="0 0 24 44" aria-hidden="true"><path d="M1 0h17l-4 5.5 4 5.5H4v33H1z" /></svg></button>`)}</span></li>`;
}

/** Hours of the hands per week under the sheet. */
function Weeks({ answer, days, width }) {
  const step = days > 200 ? 4 : days > 100 ? 2 : 1;
  const weeks = [];
  for (let i = 0; i < answer.weeks.length; i += step) {
    const part = answer.weeks.slice(i, i + step);
    weeks.push({ monday: part[0].monday, last: part.at(-1).monday, taken: part.reduce((n, w) => n + w.taken, 0), hands: part.reduce((n, w) => n + w.hands, 0) });
  }
  const x = (date, more = 0) => Math.min(Math.max(place(date, answer.day, days) + more / days, 0), 1) * width;
  return html`<ul class="weeks" aria-label=${t("horizon.hands")}>${weeks.map((w) => ({ w, from: x(w.monday), to: x(w.last, 7) })).filter(({ from, to: end }) => end - from > 24).map(({ w, from, to: end }) => {
    const share = w.hands > 0 ? Math.min(1, w.taken / w.hands) : 0;
    const over = w.taken > w.hands;
    return html`<li class=${classes(over && "over")} style=${{ left: `${from + 4}px`, width: `${end - from - 8}px` }}><span class="box"><span style=${{ height: `${share * 100}%` }}></span></span>
      <span class="hours">${end - from > 60 ? t("horizon.of", { taken: number(w.taken, w.taken % 1 ? 1 : 0), hands: number(w.hands) }) : number(w.taken)}</span><span class="unseen">${dayShort(w.monday)}${over ? `, ${t("horizon.too_much")}` : ""}</span></li>`;
  })}</ul>`;
}

/** What was picked, in full, beside the sheet: each point with its reasons; a machine's way on; a visit to plan or take out. */
function Details({ picked, answer, who, onClose }) {
  const head = useRef(null);
  const [open, setOpen] = useState(picked.marks?.length === 1 ? 0 : -1);
  useEffect(() => {
    setOpen(picked.marks?.length === 1 ? 0 : -1);
    head.current.focus();
  }, [picked]);
  const { lane, marks, visit } = picked;
  return html`<aside class="details" aria-label=${t("horizon.details")}><div class="details-head"><h2 tabindex="-1" ref=${head}><${Plate} name=${lane.name} link /> ${answer.families[lane.book] ?? lane.book}</h2><button type="button" class="button small" onClick=${onClose}>${t("close")}</button></div>
    ${marks ? html`<ul class="lines">${marks.map((m, i) => html`<li><button type="button" class="line" aria-expanded=${String(open === i)} onClick=${() => setOpen(open === i ? -1 : i)}><span class="what"><strong>${markLabel(m)}</strong> <span class="says">${whenWords(m, answer.day)}</span></span><${Glyph} system=${m.system} kind=${m.kind} /></button>
      ${open === i ? html`<div class="below"><p class="says">${[m.system ? word("system", m.system) : word("kind", m.kind), m.hours_left > 0 ? t("horizon.hours_left", { h: number(m.hours_left) }) : "", sureWords(m, answer.chance_on)].filter(Boolean).join(", ")}</p><${WhyOf} machine=${lane.serial} name=${m.key} /></div>` : null}</li>`)}</ul>` : null}
    ${visit ? html`<div class="visit"><p><strong>${visit.label}</strong></p><p class="says">${dayNear(visit.from)}, ${t("horizon.takes", { h: number(visit.hours, 1) })}${visit.by ? `, ${visit.by}` : ""}</p>${visit.note ? html`<p>${visit.note}</p>` : null}${may(who, "plan") ? html`<${TakeOut} item=${visit} onDone=${onClose} />` : null}</div>` : null}
    ${marks && may(who, "plan") ? html`<${PlanVisit} lane=${lane} marks=${marks} day=${answer.day} />` : null}
    <p class="go"><a class="button" href=${machineAddress(lane.name)}>${t("machine.named", { name: lane.name })}</a><a class="button" href=${machineAddress(lane.name, "round")}>${t("round.its")}</a></p></aside>`;
}

/** The sheet of a desk. */
function Sheet({ answer, lanes, days, who }) {
  const scroller = useRef(null);
  const time = useRef(null);
  const [width, setWidth] = useState(0);
  const [height, setHeight] = useState(600);
  const [rows, setRows] = useState([0, 30]);
  const [tip, setTip] = useState(null);
  const [picked, setPicked] = useState(null);
  const [focus, setFocus] = useState({ lane: 0, item: "name" });
  const measure = () => {
    setWidth(time.current.clientWidth);
    setHeight(scroller.current.clientHeight);
    setRows(inSight(scroller.current.scrollTop, scroller.current.clientHeight, ROW, lanes.length));
  };
  useLayoutEffect(() => {
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(time.current);
    watch.observe(scroller.current);
    return () => watch.disconnect();
  }, [lanes.length]);
  const scrolled = () => {
    const next = inSight(scroller.current.scrollTop, height, ROW, lanes.length);
    // Only when the rows run short: scrolling itself is the browser's work alone.
    if (Math.abs(next[0] - rows[0]) >= 3 || Math.abs(next[1] - rows[1]) >= 3) {
      setRows(next);
    }
    if (tip) {
      setTip(null);
    }
  };
  const point = (event, what) => {
    if (!event) {
      setTip(null);
      return;
    }
    const box = event.currentTarget.getBoundingClientRect();
    const frame = time.current.getBoundingClientRect();
    setTip({ what, x: box.left - frame.left + box.width / 2, y: box.bottom - frame.top + 6, right: box.left > frame.left + frame.width - 320 });
  };
  const keys = (event) => {
    if (event.key === "Escape") {
      setPicked(null);
      setTip(null);
    }
    const row = event.target.closest?.("[data-lane]");
    if (!row) {
      return;
    }
    const lane = Number(row.dataset.lane);
    const items = [...row.querySelectorAll("[data-item]")].sort((a, b) => a.getBoundingClientRect().left - b.getBoundingClientRect().left);
    const i = items.indexOf(event.target.closest("[data-item]"));
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const jump = { ArrowDown: 1, ArrowUp: -1, PageDown: 10, PageUp: -10 }[event.key];
    const next = step ? items[i + step] : null;
    if (next) {
      event.preventDefault();
      next.focus();
    } else if (jump || event.key === "Home" || event.key === "End") {
      event.preventDefault();
      const wanted = event.key === "Home" ? 0 : event.key === "End" ? lanes.length - 1 : Math.min(Math.max(lane + jump, 0), lanes.length - 1);
      const top = wanted * ROW;
      const s = scroller.current;
      if (top < s.scrollTop || top + ROW > s.scrollTop + s.clientHeight) {
        s.scrollTop = top < s.scrollTop ? top : top + ROW - s.clientHeight;
      }
      setRows(inSight(s.scrollTop, s.clientHeight, ROW, lanes.length));
      setFocus({ lane: wanted, item: "name", turn: Math.random() });
    }
  };
  useEffect(() => {
    if (focus.turn) {
      scroller.current.querySelector(`[data-lane="${focus.lane}"] [data-item=name]`)?.focus({ preventScroll: true });
    }
  }, [focus]);
  // A lane that was drawn under the same circumstances is handed back as it is, and then not even compared.
  const drawn = useRef({});
  const circumstances = [answer, lanes, days, width];
  if (circumstances.some((c, i) => c !== drawn.current.circumstances?.[i])) {
    drawn.current = { circumstances, lanes: new Map() };
  }
  const laneOf = (lane, index) => {
    const at = focus.lane === index ? focus.item : null;
    const known = drawn.current.lanes.get(lane.serial);
    if (known && known.at === at) {
      return known.node;
    }
    const node = html`<${Lane} key=${lane.serial} lane=${lane} index=${index} answer=${answer} days=${days} width=${width} at=${at} onPoint=${point} onPick=${setPicked} />`;
    drawn.current.lanes.set(lane.serial, { at, node });
    return node;
  };
  const seen = lanes.slice(rows[0], rows[1]);
  const behind = html`<${Behind} answer=${answer} days=${days} width=${width} />`;
  return html`<div class="horizon-sheet" onKeyDown=${keys}>
    <div class="axis"><span class="axis-name"></span><span class="axis-out">${t("horizon.already")}</span><div class="axis-time" ref=${time}><b class="today-word">${t("today.title")}</b><${BandNames} answer=${answer} days=${days} width=${width} />
      <ol class="ticks">${ticks(answer.day, days).filter((k) => (k.at * width > 44 || days <= 7) && k.at * width < width - (days <= 7 ? 80 : 48)).map((k) => html`<li style=${{ left: `${k.at * width}px` }} class=${k.strong ? "strong" : null}>${k.label}</li>`)}</ol></div></div>
    <div class="lanes-frame"><div class="behind-frame">${behind}</div><div class="lanes" ref=${scroller} onScroll=${scrolled} tabindex=${lanes.length * ROW > height ? 0 : null} role="region" aria-label=${t("horizon.lanes")}>
      <ul style=${{ height: `${lanes.length * ROW}px` }}>${seen.map((lane, i) => laneOf(lane, rows[0] + i))}</ul></div>
      <div class="tip-frame">${tip ? html`<${Tip} tip=${tip} answer=${answer} />` : null}</div></div>
    <div class="hands"><span class="axis-name">${t("horizon.hands")}</span><div class="weeks-frame"><${Weeks} answer=${answer} days=${days} width=${width} /></div></div>
    ${picked ? html`<${Details} picked=${picked} answer=${answer} who=${who} onClose=${() => setPicked(null)} />` : null}</div>`;
}

/** A phone's list: each mark a line with its strip. */
function List({ answer, lanes, days }) {
  const [most, setMost] = useState(LIST_MOST);
  const list = useMemo(() => listed(lanes), [lanes]);
  const [open, setOpen] = useState("");
  const visits = answer.calendar.filter((c) => c.type === "visit" && lanes.some((l) => l.serial === c.machine) && dayNumber(c.from) >= dayNumber(answer.day));
  const due = (m) => ({ urgency: m.urgency, kind: m.kind, reserve: m });
  return html`<section class="sheet" aria-label=${t("horizon.next")}><ul class="lines plated">${list.slice(0, most).map(({ lane, mark }) => {
    const key = `${lane.serial} ${mark.key} ${mark.p50 ?? ""}`;
    return html`<li key=${key}><button type="button" class="line" aria-expanded=${String(open === key)} onClick=${() => setOpen(open === key ? "" : key)}><${Plate} name=${lane.name} /><span class=${classes("what", mark.kind === "put back" && "open")}><strong>${markLabel(mark)}</strong> <span class="says">${mark.urgency === 0 && mark.kind !== "checkpoint" ? quantity(mark.says ?? "") : whenWords(mark, answer.day)}</span></span>${mark.urgency === 0 ? html`<span class="strip out">${t(["put back", "found"].includes(mark.kind) ? "strip.open" : mark.kind === "fault" ? "horizon.fault" : "strip.out")}</span>` : html`<${Strip} due=${due(mark)} day=${answer.day} span=${days} />`}</button>
      ${open === key ? html`<div class="below"><p class="says">${sureWords(mark, answer.chance_on)}</p><${WhyOf} machine=${lane.serial} name=${mark.key} /><p class="go"><a class="button" href=${machineAddress(lane.name)}>${t("machine.named", { name: lane.name })}</a><a class="button" href=${machineAddress(lane.name, "round")}>${t("round.its")}</a></p></div>` : null}</li>`;
  })}</ul>${list.length > most ? html`<p class="go inside"><button type="button" class="button" onClick=${() => setMost(most + 100)}>${t("more", { n: list.length - most })}</button></p>` : null}
    ${list.length ? null : html`<p class="empty">${t("horizon.nothing")}</p>`}</section>
    ${visits.length ? html`<section class="sheet" aria-labelledby="visits-title"><h2 id="visits-title">${t("horizon.visits")}</h2><ul class="lines plated">${visits.map((v) => html`<li><a class="line" href=${machineAddress(v.name)}><${Plate} name=${v.name} /><span class="what"><strong>${v.label}</strong> <span class="says">${dayNear(v.from)}, ${number(v.hours, 1)} h</span></span></a></li>`)}</ul></section>` : null}`;
}

export default function Horizon({ query, who }) {
  const zoom = ZOOMS[query.zoom] ? query.zoom : "season";
  const days = ZOOMS[zoom];
  const asked = useAsk(["horizon"], { days: Math.max(days, 31) });
  const answer = asked.data ?? asked.old;
  const phone = useMedia(PHONE);
  useTitle(t("horizon.title"));
  const set = (name, value) => go(to([""], { ...query, [name]: value }), true);
  useEvent("keydown", (e) => {
    const names = Object.keys(ZOOMS);
    const step = { "+": -1, "-": 1 }[e.key];
    const next = names[names.indexOf(zoom) + step];
    if (step && next && !e.ctrlKey && !e.metaKey && !/INPUT|SELECT|TEXTAREA/.test(e.target.tagName)) {
      set("zoom", next);
    }
  });
  const lanes = useMemo(() => (answer ? filtered(answer, query) : []), [answer, JSON.stringify(query)]);
  if (asked.error) {
    return html`<h1>${t("not_shown")}</h1><${Trouble} error=${asked.error} />`;
  }
  if (!answer) {
    return html`<h1 class="unseen">${t("horizon.title")}</h1><${Waiting} />`;
  }
  const out = lanes.reduce((n, l) => n + l.marks.filter((m) => m.urgency === 0).length, 0);
  const narrowed = ["site", "family", "system", "kind", "within"].filter((name) => query[name]).length;
  const zooms = html`<div class="zooms" role="group" aria-label=${t("horizon.zoom")}>${Object.keys(ZOOMS).map((z) => html`<button type="button" aria-pressed=${String(z === zoom)} onClick=${() => set("zoom", z)}>${t(`horizon.zoom.${z}`)}</button>`)}</div>`;
  return html`<div class="horizon"><div class="horizon-head"><h1>${t("horizon.title")}</h1><p><a href="#/machines">${t("count.machines", { n: lanes.length })}</a>, ${t("horizon.out", { n: out })}</p><${Tables} parts=${["horizon"]} query=${{ days }} feed who=${who} />${phone ? null : zooms}
      ${phone ? html`<details class="filters"><summary>${narrowed ? t("horizon.narrowed", { n: narrowed }) : t("horizon.narrow")}</summary><div><${Filters} answer=${answer} filter=${query} onChange=${set} />${zooms}</div></details>` : html`<div class="filters"><${Filters} answer=${answer} filter=${query} onChange=${set} /></div>`}</div>
    ${phone ? html`<${List} answer=${answer} lanes=${lanes} days=${days} />` : lanes.length ? html`<${Sheet} answer=${answer} lanes=${lanes} days=${days} who=${who} />` : html`<p class="sheet empty">${t("horizon.nothing")}</p>`}</div>`;
}
