// One step of a round on the whole screen: a change of the machine's condition, a check that measures, a look, a task. Each calls
// onDone({entries, outcome, blobs}) with what is to be recorded; it knows nothing of the log.
import { classes, html, useEffect, useState } from "../lib/ui.js";
import { number, quantity, timeWords } from "../lib/format.js";
import { languageName, t, word } from "../lib/words.js";
import { openEntries, typed, verdictOf } from "../lib/walk.js";
import { Caution } from "./caution.js";
import { Drawing } from "./drawing.js";
import { Gauge } from "./gauge.js";
import { NumberPad } from "./pad.js";
import { Stripe } from "./stripe.js";

const LEVELS = ["DANGER", "WARNING", "CAUTION", "NOTICE"];

/** Cautions, the worst first, each to be acknowledged; `read` counts those that are. A notice need not be. */
function Cautions({ list, read, onRead, fold = true }) {
  const sorted = [...(list ?? [])].sort((a, b) => LEVELS.indexOf(a.level) - LEVELS.indexOf(b.level));
  const asked = sorted.filter((c) => c.level !== "NOTICE");
  if (read && fold && asked.length) { // read: they make room, and open again
    return html`<details class="walk-folded"><summary><span class="box on" aria-hidden="true"></span>${t("walk.was_read")}: ${sorted.map((c) => t(`caution.${c.level}`)).join(", ")}</summary>${sorted.map((c) => html`<${Caution} ...${c} />`)}</details>`;
  }
  return html`${sorted.map((c) => html`<${Caution} ...${c} />`)}
    ${asked.length && !read ? html`<button type="button" class="walk-read" onClick=${onRead}><span class="box" aria-hidden="true"></span>${t("walk.read", { n: asked.length })}</button>`
    : asked.length ? html`<p class="walk-was-read"><span class="box on" aria-hidden="true"></span>${t("walk.was_read")}</p>` : null}`;
}

const guarded = (list) => (list ?? []).some((c) => c.level !== "NOTICE");

/** The drawing with the step's mark alone. */
export function Where({ doc, shown, large = false }) {
  const figure = shown && doc.figures.find((f) => f.name === shown.name);
  const mark = figure?.marks.find((k) => k.number === shown.mark);
  if (!figure) {
    return null;
  }
  return html`<figure class=${classes("walk-where", large && "large")}><${Drawing} machine=${doc.machine.name} figure=${figure} marks=${mark ? [{ ...mark, look: "out" }] : []} description=${mark ? `${figure.title}, ${mark.number}: ${mark.label}` : figure.title} />
    ${mark ? html`<figcaption><span class="mark out" aria-hidden="true">${mark.number}</span> ${mark.label}</figcaption>` : null}</figure>`;
}

const List = ({ title, items }) => (items?.length ? html`<p class="walk-needs"><span class="says">${title} </span>${quantity(items.join(", "))}</p>` : null);

const Opens = ({ step }) => html`${(step.opens ?? []).map((o) => html`<p class="walk-opens"><${Stripe} bare state="phone" /><span>${t("putback.goes_on")} <strong>${o.label}</strong></span></p>`)}
  ${(step.closes ?? []).map((c) => html`<p class="walk-opens"><${Stripe} bare /><span>${t("putback.put_back")} <strong>${c.label}</strong></span></p>`)}`;

const Says = ({ step }) => html`<p class="walk-says">${[step.place, timeWords(step.takes_s)].filter(Boolean).join(" \u00b7 ")}</p>${step.why ? html`<p class="says">${quantity(step.why)}</p>` : null}`;

/** The button that ends a step; it sleeps until everything before it is done, and says what that is. */
const Done = ({ label, wait, onClick, busy }) => html`<div class="walk-done"><button type="button" class="walk-main" disabled=${Boolean(wait) || busy} onClick=${onClick}>${label}</button>${wait ? html`<p class="walk-wait" role="status">${wait}</p>` : null}</div>`;

// ---- a change of the machine's condition ----

export function ChangeStep({ doc, step, then, machine, busy, onDone }) {
  const [read, setRead] = useState(false);
  const wait = guarded(step.cautions) && !read ? t("walk.read_first") : "";
  return html`<div class="walk-body"><h1>${step.label}</h1><${Says} step=${step} />
    <${Cautions} list=${step.cautions} read=${read} onRead=${() => setRead(true)} fold=${false} />
    <${List} title=${t("round.tools")} items=${step.tools} /><${Opens} step=${step} />
    ${then ? html`<p class="walk-then">${then}</p>` : null}
    <${Where} doc=${doc} shown=${step.figure} large /></div>
    <${Done} label=${t("walk.change_done")} wait=${wait} busy=${busy} onClick=${() => onDone({ entries: openEntries(machine, step), outcome: "done" })} />`;
}

// ---- a check that measures ----
// Pad, gauge and limits are all in the depot's unit, whatever unit the reader likes elsewhere: a figure must not change under a thumb.

const shownWord = (verdict) => word("verdict", verdict);

function Verdict({ step, verdict, value }) {
  const read = step.read;
  const raw = Number.isFinite(value) ? value : null;
  const corrected = verdict?.corrected ? verdict.corrected.value : null;
  // Limits of something else than is read (a belt's tension from its deflection) have no place on the scale of the reading: then
  // the core's places are drawn, without figures at the brackets.
  const own = Number.isFinite(read.low) || Number.isFinite(read.high);
  const places = own ? { low: read.low, high: read.high, want: read.want_value, raw, corrected } : { ...verdict?.gauge, raw: null, lowText: "", highText: "" };
  return html`<div class=${classes("walk-verdict", verdict && verdict.verdict.replaceAll(" ", "-"))}>
    <${Gauge} ...${places} judged=${!verdict || verdict.verdict !== "not judged"} wide />
    <p class="walk-word" aria-live="polite">${verdict ? html`<strong>${shownWord(verdict.verdict)}</strong> ${[verdict.correction ? verdict.corrected?.text : "", verdict.reason].filter(Boolean).join(", ")}` : html`<span class="says">${[read.measure, read.limits].filter(Boolean).join(" ")}${read.last ? `; ${t("round.last", { last: read.last })}` : ""}</span>`}</p>
    ${verdict?.correction ? html`<p class="says">${verdict.correction}</p>` : null}</div>`;
}

export function MeasureStep({ doc, step, machine, core, busy, onDone, blobs, more }) {
  const fields = [{ name: "", unit: step.unit, shown: step.read.unit, label: step.read.measure }, ...(step.with ?? []).map((w) => ({ name: w.name, unit: w.unit, shown: w.shown, label: w.name }))];
  const [texts, setTexts] = useState({});
  const [at, setAt] = useState(0);
  const [read, setRead] = useState(false);
  const field = fields[at];
  const values = Object.fromEntries(fields.map((f) => [f.name, typed(texts[f.name] ?? "")]));
  const main = values[""];
  const together = Object.fromEntries(fields.slice(1).map((f) => [f.name, values[f.name].value]).filter(([, v]) => v !== undefined));
  let verdict = null;
  let refused = null;
  if (main.value !== undefined) {
    try {
      verdict = verdictOf(core, step, main.value, together);
    } catch (error) {
      refused = error;
    }
  }
  const bad = Object.values(values).find((v) => v.wrong && v.wrong !== "empty");
  const wait = guarded(step.cautions) && !read ? t("walk.read_first") : bad ? t(`walk.wrong.${bad.wrong}`, { unit: field.shown || t("walk.bare") }) : refused ? [refused.what, refused.right].filter(Boolean).join("; ") : main.wrong ? t("walk.type_it", { what: step.read.measure }) : "";
  const done = () => onDone({
    entries: [{ machine, kind: "reading", body: { checkpoint: step.name, value: main.value, unit: step.unit, with: Object.keys(together).length ? Object.fromEntries(Object.entries(together).map(([name, value]) => [name, { value, unit: fields.find((f) => f.name === name).unit }])) : undefined } }],
    outcome: "done",
    blobs,
  });
  const cautions = html`<${Cautions} list=${step.cautions} read=${read} onRead=${() => setRead(true)} />`;
  // Once read, the cautions stand below the pad, so that title, gauge and pad are in sight together.
  return html`<div class=${classes("walk-body", "measure", fields.length > 1 && "several")}><h1>${step.label}</h1><p class="walk-says">${[step.place, (step.tools ?? []).join(", ")].filter(Boolean).join(" \u00b7 ")}</p>
    ${read ? null : cautions}
    <${Verdict} step=${step} verdict=${verdict} value=${main.value} />
    ${fields.length > 1 ? html`<div class="walk-fields" role="group" aria-label=${t("walk.what_is_read")}>${fields.map((f, i) => html`<button type="button" aria-pressed=${i === at ? "true" : "false"} onClick=${() => setAt(i)}><span>${f.label}</span> <strong>${(texts[f.name] ?? "").replace(".", languageName() === "es" ? "," : ".") || "\u2013"} ${f.shown}</strong></button>`)}</div>` : null}
    <${NumberPad} value=${texts[field.name] ?? ""} onInput=${(text) => setTexts({ ...texts, [field.name]: text })} unit=${field.shown} signed=${at > 0 || !(step.read.low >= 0)} label=${field.label} />
    ${read ? cautions : null}
    ${step.why ? html`<p class="says">${quantity(step.why)}</p>` : null}
    <${Where} doc=${doc} shown=${step.figure} />${more}</div>
    <${Done} label=${t("walk.next")} wait=${wait} busy=${busy} onClick=${done} />`;
}

// ---- a look ----

export function LookStep({ doc, step, machine, busy, onDone, blobs, more }) {
  const [seen, setSeen] = useState(null); // null: nothing said yet; a list of what was seen
  const [own, setOwn] = useState("");
  const [read, setRead] = useState(false);
  const sleepy = guarded(step.cautions) && !read;
  const words = [...(seen ?? []), own.trim()].filter(Boolean).join("; ");
  const found = (look, outcome) => onDone({ entries: [{ machine, kind: "found", body: { checkpoint: step.name, look } }], outcome, blobs });
  const toggle = (what) => setSeen(seen.includes(what) ? seen.filter((w) => w !== what) : [...seen, what]);
  return html`<div class="walk-body"><h1>${step.label}</h1><${Says} step=${step} />
    <${Cautions} list=${step.cautions} read=${read} onRead=${() => setRead(true)} />
    <${List} title=${t("round.tools")} items=${step.tools} />
    ${seen === null ? html`<h2 class="walk-look-title">${t("round.look_for")}</h2><ul class="walk-look">${(step.look ?? []).map((l) => html`<li>${l}</li>`)}</ul>`
    : html`<fieldset class="walk-seen"><legend>${t("walk.what_seen")}</legend>${(step.look ?? []).map((l) => html`<button type="button" aria-pressed=${seen.includes(l) ? "true" : "false"} onClick=${() => toggle(l)}><span class=${classes("box", seen.includes(l) && "on")} aria-hidden="true"></span>${l}</button>`)}
      <label class="walk-own"><span>${t("walk.own_words")}</span><textarea rows="2" maxlength="2000" value=${own} onInput=${(e) => setOwn(e.target.value)}></textarea></label></fieldset>`}
    <${Where} doc=${doc} shown=${step.figure} />${more}</div>
    ${seen === null ? html`<div class="walk-done two"><button type="button" class="walk-second" disabled=${sleepy || busy} onClick=${() => setSeen([])}>${t("walk.something")}</button><button type="button" class="walk-main" disabled=${sleepy || busy} onClick=${() => found("ok", "done")}>${t("walk.all_right")}</button>${sleepy ? html`<p class="walk-wait" role="status">${t("walk.read_first")}</p>` : null}</div>`
    : html`<div class="walk-done two"><button type="button" class="walk-second" onClick=${() => setSeen(null)}>${t("walk.back")}</button><button type="button" class="walk-main" disabled=${!words || busy} onClick=${() => found(words, "damaged")}>${t("walk.keep_found")}</button></div>`}`;
}

// ---- a task ----

function Uses({ parts, fluids, set }) {
  const more = (list, i, key, by) => list.map((x, k) => (k === i ? { ...x, [key]: Math.max(0, Math.round((x[key] + by) * 1000) / 1000) } : x));
  const amount = (label, value, unit, less, plus) => html`<li class="walk-use"><span>${label}</span><span class="walk-stepper"><button type="button" aria-label=${t("walk.less", { what: label })} onClick=${less}>\u2212</button><output>${number(value, value % 1 ? 1 : 0)} ${unit}</output><button type="button" aria-label=${t("walk.more", { what: label })} onClick=${plus}>+</button></span></li>`;
  return parts.length + fluids.length ? html`<h2 class="walk-look-title">${t("walk.used")}</h2><ul class="walk-uses">
    ${parts.map((p, i) => amount(html`${p.label} <span class="says">${p.number}</span>`, p.quantity, "\u00d7", () => set({ parts: more(parts, i, "quantity", -1), fluids }), () => set({ parts: more(parts, i, "quantity", 1), fluids })))}
    ${fluids.map((f, i) => amount(f.label, f.value ?? 0, f.unit, () => set({ parts, fluids: more(fluids, i, "value", -stepOfFluid(f)) }), () => set({ parts, fluids: more(fluids, i, "value", stepOfFluid(f)) })))}</ul>` : null;
}

const stepOfFluid = (f) => ((f.value ?? 0) >= 10 ? 1 : 0.1);

/** ticks: how many acts are done already (kept by the view, since what an act opens is recorded at once). */
export function TaskStep({ doc, step, machine, busy, ticks, onAct, onDone, blobs, more }) {
  const [read, setRead] = useState({});
  const [uses, setUses] = useState({ parts: step.parts ?? [], fluids: step.fluids ?? [] });
  useEffect(() => setUses({ parts: step.parts ?? [], fluids: step.fluids ?? [] }), [step.key]);
  const first = guarded(step.cautions) && !read.all;
  const all = ticks >= step.acts.length;
  const done = () => {
    const parts = uses.parts.filter((p) => p.quantity > 0).map(({ part, number: n, quantity: q }) => ({ part, number: n || undefined, quantity: q }));
    const fluids = uses.fluids.filter((f) => f.value > 0).map(({ fluid, value, unit }) => ({ fluid, value, unit }));
    const entry = { machine, kind: "done", body: { task: step.name, parts: parts.length ? parts : undefined, fluids: fluids.length ? fluids : undefined } };
    onDone({ entries: step.ends ? [entry] : [], outcome: "done", blobs });
  };
  const act = (a, i) => {
    const sleepy = i === ticks && guarded(a.cautions) && !read[i];
    return html`<li class=${classes("walk-act", i < ticks && "done", i === ticks && "now")}>
      ${i === ticks ? html`<${Cautions} list=${a.cautions} read=${read[i]} onRead=${() => setRead({ ...read, [i]: true })} />` : null}
      <button type="button" class="walk-tick" disabled=${i !== ticks || first || sleepy || busy} aria-pressed=${i < ticks ? "true" : "false"} onClick=${() => onAct(i, openEntries(machine, a))}><span class=${classes("box", i < ticks && "on")} aria-hidden="true"></span><span>${a.act}${a.place ? html` <span class="says">${a.place}</span>` : null}</span></button>
      ${i === ticks ? html`<${List} title=${t("round.torque")} items=${a.torques} /><${List} title=${t("round.tools")} items=${a.tools} /><${List} title=${t("round.take_back")} items=${a.waste ? [a.waste] : []} /><${Opens} step=${a} /><${Where} doc=${doc} shown=${a.figure} />` : null}</li>`;
  };
  const wait = first ? t("walk.read_first") : all ? "" : t("walk.acts_left", { n: step.acts.length - ticks });
  return html`<div class="walk-body"><h1>${step.label}${step.begins && step.ends ? "" : html` <span class="says">${step.begins ? t("walk.begins") : step.ends ? t("walk.ends") : t("walk.goes_on")}</span>`}</h1><${Says} step=${step} />
    <${Cautions} list=${step.cautions} read=${read.all} onRead=${() => setRead({ ...read, all: true })} />
    <${List} title=${t("round.tools")} items=${step.tools} />
    <ol class="walk-acts">${step.acts.map(act)}</ol>
    ${step.ends && all ? html`<${Uses} ...${uses} set=${setUses} />` : null}
    ${step.acts.some((a) => a.figure) ? null : html`<${Where} doc=${doc} shown=${step.figure} />`}${more}</div>
    <${Done} label=${t("walk.task_done")} wait=${wait} busy=${busy} onClick=${done} />`;
}

