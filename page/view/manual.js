// A book as a manual for one serial number: only what applies to it, with drawings, cautions before what they guard, searchable.
import { html, useAsk, useMemo, useState, useTitle } from "../lib/ui.js";
import { quantity, timeWords } from "../lib/format.js";
import { t, word } from "../lib/words.js";
import { Cautions } from "../part/caution.js";
import { Drawing } from "../part/drawing.js";
import { Glyph } from "../part/glyph.js";
import { Plate } from "../part/plate.js";
import { OpensAndCloses } from "../part/putback.js";
import { Answer } from "../part/trouble.js";

const SECTIONS = ["services", "checkpoints", "tasks", "fluids", "parts", "torques", "fuses", "adjusters", "recovery", "symptoms"];

const says = (q) => (q ? quantity(q.says ?? q) : "");
const join = (...list) => list.filter(Boolean).join("; ");
const find = (list, name) => list?.find((x) => x.name === name);

/** Every text of a thing, for the search. Pure. */
export function textOf(thing) {
  return typeof thing === "string" ? thing : typeof thing === "number" ? String(thing) : thing && typeof thing === "object" ? Object.values(thing).map(textOf).join(" ") : "";
}

/** The sections with what fits the words: [[name, [thing]]]. All words must occur. Pure. */
export function searched(book, text) {
  const wanted = text.toLowerCase().split(/\s+/).filter(Boolean);
  const fits = (thing) => {
    const own = textOf(thing).toLowerCase();
    return wanted.every((w) => own.includes(w));
  };
  return SECTIONS.map((name) => [name, (name === "recovery" ? [book.recovery].filter(Boolean) : book[name] ?? []).filter(fits)]).filter(([, list]) => list.length);
}

function Figure({ m, book, shown }) {
  const figure = shown && find(book.figures, shown.name);
  const mark = figure?.marks.find((k) => k.number === shown.mark);
  return figure ? html`<details class="where"><summary>${t("round.where")} <span>${mark?.label ?? figure.title}</span></summary><${Drawing} machine=${m} figure=${figure} marks=${mark ? [{ ...mark, look: "out" }] : []} description=${`${figure.title}${mark ? `, ${mark.number}: ${mark.label}` : ""}`} /></details>` : null;
}

const place = (book, name) => find(book.places, name)?.label ?? "";
const intervals = (c) => join(c.every ? t("machine.every", { every: quantity(c.every.says) }) : "", c.first ? t("manual.first", { every: quantity(c.first.says) }) : "", c.severe ? t("manual.severe", { every: quantity(c.severe.says) }) : "");

const Checkpoint = ({ m, book, c }) => html`<li class="item"><h3><${Glyph} system=${c.system} kind="checkpoint" /> ${c.label}</h3><p class="says">${join(c.system ? word("system", c.system) : "", place(book, c.place), intervals(c), c.needs)}</p><${Cautions} list=${c.cautions} />
  ${c.limits ? html`<p>${c.measure} <strong>${quantity(c.limits)}</strong>${c.want ? `, ${t("card.want", { want: says(c.want) })}` : ""}${c.correction && c.correction !== "as read" ? `, ${t("manual.corrected", { to: c.correction })}` : ""}</p>` : null}${c.look?.length ? html`<p><span class="says">${t("round.look_for")}</span> ${c.look.join(" \u00b7 ")}</p>` : null}<${Figure} m=${m} book=${book} shown=${c.figure} /></li>`;

const itemLabels = (book, names) => (names ?? []).map((n) => find(book.put_back_items, n)?.label ?? n);

const Steps = ({ m, book, steps }) => html`<ol class="acts">${steps.map((s) => html`<li><${Cautions} list=${s.cautions} /><p class="act">${s.act}${s.place ? html` <span class="says">${place(book, s.place)}</span>` : null}</p>
  ${s.torques?.length ? html`<p class="needs"><span>${t("round.torque")} </span>${s.torques.map((n) => `${find(book.torques, n)?.label ?? n} ${says(find(book.torques, n)?.torque)}`).join(", ")}</p>` : null}${s.tools?.length ? html`<p class="needs"><span>${t("round.tools")} </span>${quantity(s.tools.join(", "))}</p>` : null}<${OpensAndCloses} opens=${itemLabels(book, s.opens)} closes=${itemLabels(book, s.closes)} /><${Figure} m=${m} book=${book} shown=${s.figure} /></li>`)}</ol>`;

const Task = ({ m, book, c }) => html`<li class="item"><details class="task"><summary><h3>${c.label}</h3> <span class="says">${join(timeWords(c.labour_s ?? 0), place(book, c.place), t("count.steps", { n: c.steps.length }))}</span></summary><${Cautions} list=${c.cautions} />
  ${c.parts.length ? html`<p class="needs"><span>${t("round.parts")} </span>${c.parts.map((p) => `${p.quantity} \u00d7 ${find(book.parts, p.part)?.label ?? p.part} ${find(book.parts, p.part)?.number ?? ""}`).join(", ")}</p>` : null}
  ${c.fluids.length ? html`<p class="needs"><span>${t("round.fluids")} </span>${c.fluids.map((f) => `${says(f.quantity)} ${find(book.fluids, f.fluid)?.label ?? f.fluid}`).join(", ")}</p>` : null}
  ${c.tools.length ? html`<p class="needs"><span>${t("round.tools")} </span>${quantity(c.tools.join(", "))}</p>` : null}${c.equipment.length ? html`<p class="needs"><span>${t("round.wear")} </span>${c.equipment.join(", ")}</p>` : null}<${Steps} m=${m} book=${book} steps=${c.steps} /></details></li>`;

const line = (label, strong, note) => html`<li class="item row"><span>${label}</span><strong>${strong}</strong>${note ? html`<span class="says">${note}</span>` : null}</li>`;

const SHOW = {
  checkpoints: (m, book) => (c) => html`<${Checkpoint} m=${m} book=${book} c=${c} />`,
  tasks: (m, book) => (c) => html`<${Task} m=${m} book=${book} c=${c} />`,
  fluids: () => (f) => line(f.label, f.is, join(says(f.capacity), f.note)),
  parts: () => (p) => line(p.label, p.number, p.chain?.length > 1 ? t("card.instead_of", { number: p.chain.slice(0, -1).join(", ") }) : ""),
  torques: () => (q) => line(q.label, says(q.torque), join(q.thread, q.note, q.again_after ? t("card.again", { after: says(q.again_after) }) : "")),
  fuses: () => (f) => line(f.position, f.rating_a === null ? t("card.relay") : `${f.rating_a} A`, f.protects || f.label),
  services: (m, book) => (s) => html`<li class="item"><h3>${s.label}</h3><p>${[...s.checkpoints.map((n) => find(book.checkpoints, n)?.label), ...s.tasks.map((n) => find(book.tasks, n)?.label)].filter(Boolean).join(" \u00b7 ")}</p></li>`,
  adjusters: (m, book) => (a) => html`<li class="item"><h3>${a.label}</h3><${Cautions} list=${a.cautions} /><p class="says">${join(place(book, a.place), a.needs)}</p><p>${t("manual.turn", { first: a.first_step, step: a.step, most: a.at_most, way: t(`record.way.${a.turn}`) })}</p>${a.watch ? html`<p><span class="says">${t("manual.watch")}</span> ${a.watch}</p>` : null}<${Figure} m=${m} book=${book} shown=${a.figure} /></li>`,
  recovery: (m, book) => (r) => html`<li class="item"><${Cautions} list=${r.cautions} /><p>${join(r.distance ? t("manual.distance", { q: says(r.distance) }) : "", r.speed ? t("manual.speed", { q: says(r.speed) }) : "", r.slope ? t("manual.slope", { q: says(r.slope) }) : "")}</p><${Steps} m=${m} book=${book} steps=${r.steps} /></li>`,
  symptoms: () => (s) => html`<li class="item"><h3>${s.label}</h3>${s.says?.length ? html`<p class="says">${s.says.join(" \u00b7 ")}</p>` : null}</li>`,
};

function Manual({ name, book }) {
  const [text, setText] = useState("");
  const sections = useMemo(() => searched(book, text), [book, text]);
  return html`<div class="lead manual-head"><${Plate} name=${name} large link /><div><h1>${book.title}</h1><p>${t("manual.for", { serial: book.machine ?? name, edition: book.edition })}${book.options?.length ? `, ${book.options.join(", ")}` : ""}</p></div></div>
    <div class="manual-find"><label class="field"><span>${t("manual.find")}</span><input type="search" value=${text} onInput=${(e) => setText(e.target.value)} /></label><button type="button" class="button" onClick=${() => print()}>${t("print")}</button></div>
    <nav class="choices" aria-label=${t("manual.sections")}>${sections.map(([s, list]) => html`<a class="chip" href="#" onClick=${(e) => { e.preventDefault(); document.getElementById(`manual-${s}`).scrollIntoView(); document.getElementById(`manual-${s}`).focus({ preventScroll: true }); }}>${t(`manual.${s}`)} <span class="count">${list.length}</span></a>`)}</nav>
    <p class="first-words">${book.first_words}</p>
    ${sections.map(([s, list]) => html`<section class="sheet manual-section" key=${s} aria-labelledby=${`manual-${s}`}><h2 id=${`manual-${s}`} tabindex="-1">${t(`manual.${s}`)}</h2><ul class="items">${list.map(SHOW[s](name, book))}</ul></section>`)}
    ${sections.length ? null : html`<p class="sheet empty">${t("manual.nothing")}</p>`}`;
}

export default function ManualView({ params }) {
  const answer = useAsk(["machines", params.name, "book"]);
  useTitle(answer.data ? `${answer.data.title} ${params.name}` : params.name);
  return html`<${Answer} whole of=${answer}>${(book) => html`<${Manual} name=${params.name} book=${book} />`}<//>`;
}
