// Recording: everything that an entry can say. What kind first, then what it takes; a reading is judged while it is typed.
import { go, html, to, useAsk, useEffect, useRef, useState, useTitle } from "../lib/ui.js";
import { ask } from "../lib/api.js";
import { attach } from "../lib/attach.js";
import { quantity, unitShown } from "../lib/format.js";
import { judgeReading } from "../lib/judge.js";
import { record } from "../lib/record.js";
import { t, word } from "../lib/words.js";
import { NumberPad } from "../part/pad.js";
import { Plate } from "../part/plate.js";
import { PutBackBar } from "../part/putback.js";
import { Stripe } from "../part/stripe.js";
import { Answer, Trouble } from "../part/trouble.js";
import { Verdict } from "../part/verdict.js";

const OF_MACHINE = ["reading", "found", "done", "meter", "fault-seen", "fault-cleared", "opened", "put-back", "turn", "burn", "note", "attachment", "meter-replaced", "machine-out", "machine-in"];
const OF_DEPOT = ["stock", "note", "attachment"];
const UNITS = { bar: ["bar", "kPa", "psi"], mbar: ["mbar", "kPa", "psi"], degC: ["degC", "degF"], mm: ["mm", "in"] };
const number = (text) => Number(String(text).replace(",", "."));

const Field = ({ name, label, hint = "", children = null, ...input }) => html`<label class="field"><span>${label ?? word("member", name)}</span>${children ?? html`<input name=${name} ...${input} />`}${hint ? html`<small class="hint">${hint}</small>` : null}</label>`;
/** list: [[value, label]] */
const Pick = ({ name, label, list, value, onChange }) => html`<${Field} name=${name} label=${label}><select name=${name} required value=${value ?? ""} onChange=${(e) => onChange?.(e.target.value)}>${value ? null : html`<option value="">${t("record.choose")}</option>`}${list.map(([key, text]) => html`<option value=${key}>${text}</option>`)}</select><//>`;

const named = (list) => [...list].map((x) => [x.name, x.label]).sort((a, b) => a[1].localeCompare(b[1]));

/** A measured value: number pad, unit, what is read with it, the verdict as it stands. onDraft(draft | null). */
function Reading({ book, start, onDraft }) {
  const points = book.checkpoints.filter((c) => c.kind === "measured");
  const [name, setName] = useState(points.some((c) => c.name === start) ? start : "");
  const point = points.find((c) => c.name === name);
  const [value, setValue] = useState("");
  const [unit, setUnit] = useState("");
  const [together, setTogether] = useState({});
  const [answer, setAnswer] = useState(null);
  const shownUnit = unit || point?.read_unit || point?.unit || "";
  const given = Object.fromEntries((point?.also ?? []).filter((a) => together[a.name]).map((a) => [a.name, `${together[a.name].replace(",", ".")} ${a.unit}`]));
  useEffect(() => {
    let mine = true;
    if (point) {
      judgeReading(point, value, shownUnit, given).then((a) => mine && setAnswer(a));
    }
    const body = point && value !== "" ? { checkpoint: name, value: number(value), unit: shownUnit, ...(Object.keys(given).length ? { with: Object.fromEntries(point.also.filter((a) => together[a.name]).map((a) => [a.name, { value: number(together[a.name]), unit: a.unit }])) } : {}) } : null;
    onDraft(body);
    return () => {
      mine = false;
    };
  }, [name, value, shownUnit, JSON.stringify(together)]);
  return html`<${Pick} name="checkpoint" list=${named(points)} value=${name} onChange=${(n) => { setName(n); setUnit(""); setTogether({}); }} />
    ${point ? html`<p class="says">${[point.measure, quantity(point.limits), point.want ? t("card.want", { want: quantity(point.want.says) }) : "", point.needs].filter(Boolean).join("; ")}</p>
      <div class="reading-form"><${NumberPad} value=${value} onInput=${setValue} unit=${shownUnit} units=${UNITS[point.read_unit ?? point.unit] ?? []} onUnit=${setUnit} signed=${shownUnit.startsWith("deg")} label=${point.label} />
      <div>${point.also?.map((a) => html`<${Field} label=${`${a.name}, ${unitShown(a.unit)}`} inputmode="decimal" value=${together[a.name] ?? ""} onInput=${(e) => setTogether({ ...together, [a.name]: e.target.value })} />`)}<${Verdict} answer=${answer} checkpoint=${point} /></div></div>` : null}`;
}

function Found({ book, start, onDraft }) {
  const points = book.checkpoints.filter((c) => c.kind !== "done by");
  const [name, setName] = useState(points.some((c) => c.name === start) ? start : "");
  const [look, setLook] = useState("");
  const point = points.find((c) => c.name === name);
  useEffect(() => onDraft(point && look ? { checkpoint: name, look } : null), [name, look]);
  return html`<${Pick} name="checkpoint" list=${named(points)} value=${name} onChange=${setName} />
    ${point ? html`<div class="choices" role="group" aria-label=${t("record.looks")}>${["ok", ...(point.look ?? [])].map((l) => html`<button type="button" class="chip" aria-pressed=${String(look === l)} onClick=${() => setLook(l)}>${l === "ok" ? t("record.ok") : l}</button>`)}</div>
      <${Field} name="look" label=${t("record.look")} value=${look === "ok" ? "" : look} onInput=${(e) => setLook(e.target.value)} />` : null}`;
}

function Done({ book, start, onDraft }) {
  const [name, setName] = useState(book.tasks.some((x) => x.name === start) ? start : "");
  const task = book.tasks.find((x) => x.name === name);
  const [used, setUsed] = useState({});
  const [hours, setHours] = useState("");
  const [minutes, setMinutes] = useState("");
  const amount = (key, otherwise) => used[key] ?? String(otherwise);
  useEffect(() => {
    if (!task) {
      onDraft(null);
      return;
    }
    const parts = task.parts.map((p) => ({ part: p.part, quantity: number(amount(`part ${p.part}`, p.quantity)) })).filter((p) => p.quantity > 0);
    const fluids = task.fluids.map((f) => ({ fluid: f.fluid, value: number(amount(`fluid ${f.fluid}`, f.quantity?.value ?? 0)), unit: f.quantity?.unit ?? "L" })).filter((f) => f.value > 0);
    onDraft({ task: name, ...(hours ? { hours: number(hours) } : {}), ...(minutes ? { minutes: number(minutes) } : {}), ...(parts.length ? { parts } : {}), ...(fluids.length ? { fluids } : {}) });
  }, [name, hours, minutes, JSON.stringify(used)]);
  const label = (list, key) => book[list].find((x) => x.name === key)?.label ?? key;
  const part = (key) => book.parts.find((x) => x.name === key);
  return html`<${Pick} name="task" list=${named(book.tasks)} value=${name} onChange=${(n) => { setName(n); setUsed({}); }} />
    <div class="pair"><${Field} name="hours" label=${t("record.meter_then")} inputmode="decimal" value=${hours} onInput=${(e) => setHours(e.target.value)} /><${Field} name="minutes" label=${t("record.minutes")} inputmode="numeric" value=${minutes} onInput=${(e) => setMinutes(e.target.value)} /></div>
    ${task?.parts.length || task?.fluids.length ? html`<fieldset class="used"><legend>${t("record.used")}</legend>
      ${task.parts.map((p) => html`<${Field} label=${`${label("parts", p.part)} ${part(p.part)?.number ?? ""}`} inputmode="numeric" value=${amount(`part ${p.part}`, p.quantity)} onInput=${(e) => setUsed({ ...used, [`part ${p.part}`]: e.target.value })} />`)}
      ${task.fluids.map((f) => html`<${Field} label=${`${label("fluids", f.fluid)}, ${f.quantity?.unit ?? "L"}`} inputmode="decimal" value=${amount(`fluid ${f.fluid}`, f.quantity?.value ?? "")} onInput=${(e) => setUsed({ ...used, [`fluid ${f.fluid}`]: e.target.value })} />`)}</fieldset>` : null}`;
}

function Turn({ book, start, onDraft }) {
  const [name, setName] = useState(book.adjusters.some((x) => x.name === start) ? start : "");
  const [turns, setTurns] = useState("");
  const [way, setWay] = useState("in");
  const [accepted, setAccepted] = useState(false);
  useEffect(() => onDraft(name && number(turns) > 0 ? { adjuster: name, turns: number(turns) * (way === "in" ? 1 : -1), ...(accepted ? { accepted } : {}) } : null), [name, turns, way, accepted]);
  return html`<${Pick} name="adjuster" list=${named(book.adjusters)} value=${name} onChange=${setName} />
    <${NumberPad} value=${turns} onInput=${setTurns} unit=${t("record.turns")} /><div class="choices" role="group" aria-label=${t("record.way")}>${["in", "out"].map((w) => html`<button type="button" class="chip" aria-pressed=${String(way === w)} onClick=${() => setWay(w)}>${t(`record.way.${w}`)}</button>`)}
    <label class="chip"><input type="checkbox" checked=${accepted} onChange=${(e) => setAccepted(e.target.checked)} /><span>${t("record.accepted")}</span></label></div>`;
}

/** Forms that are a few fields: [name, input attributes]; `make` gives the body or null from what was given. */
const PLAIN = {
  "meter-replaced": { fields: [["old", { inputmode: "decimal", required: true }], ["new", { inputmode: "decimal", required: true }]], make: (g) => ({ old: number(g.old), new: number(g.new) }) },
  "fault-seen": { fields: [["spn", { inputmode: "numeric" }], ["fmi", { inputmode: "numeric" }], ["code", {}], ["text", {}]], make: (g) => ({ ...(g.spn ? { spn: number(g.spn) } : {}), ...(g.fmi ? { fmi: number(g.fmi) } : {}), ...(g.code ? { code: g.code } : {}), ...(g.text ? { text: g.text } : {}) }) },
  "machine-out": { fields: [["reason", { required: true }]], make: (g) => ({ reason: g.reason }) },
  stock: { fields: [["part", { required: true }], ["quantity", { inputmode: "decimal", required: true }]], make: (g) => ({ part: g.part, quantity: number(g.quantity) }) },
};

function Plain({ kind, onDraft }) {
  const [given, setGiven] = useState({});
  const { fields, make } = PLAIN[kind];
  useEffect(() => onDraft(fields.every(([name, a]) => !a.required || given[name]) && Object.values(given).some(Boolean) ? make(given) : null), [JSON.stringify(given)]);
  return html`${fields.map(([name, a]) => html`<${Field} name=${name} value=${given[name] ?? ""} onInput=${(e) => setGiven({ ...given, [name]: e.target.value })} ...${a} />`)}${kind === "stock" ? html`<p class="says">${t("record.stock_says")}</p>` : null}`;
}

/** One choice from a list is all that it takes. */
function One({ name, list, start, make, onDraft }) {
  const [value, setValue] = useState(list.some(([key]) => key === start) ? start : "");
  useEffect(() => onDraft(value ? make(value) : null), [value]);
  return list.length ? html`<${Pick} name=${name} list=${list} value=${value} onChange=${setValue} />` : html`<p class="empty">${t("record.none")}</p>`;
}

function Burn({ onDraft }) {
  const [type, setType] = useState("");
  const [minutes, setMinutes] = useState("");
  useEffect(() => onDraft(type ? { type, ...(minutes ? { minutes: number(minutes) } : {}) } : null), [type, minutes]);
  return html`<${Pick} name="type" list=${["passive", "active", "parked", "inhibited", "released"].map((x) => [x, t(`burn.${x}`)])} value=${type} onChange=${setType} /><${Field} name="minutes" label=${t("record.minutes")} inputmode="numeric" value=${minutes} onInput=${(e) => setMinutes(e.target.value)} />`;
}

function Meter({ m, onDraft }) {
  const [value, setValue] = useState("");
  useEffect(() => onDraft(value ? { hours: number(value) } : null), [value]);
  return html`<p class="says">${m.meter.read_h === null ? t("machine.not_read") : t("record.last_meter", { hours: quantity(`${Math.round(m.meter.read_h)} h`) })}</p><${NumberPad} value=${value} onInput=${setValue} unit="h" label=${word("entry_kind", "meter")} />`;
}

const faultKey = (f) => (/^\d+\/\d+$/.test(f) ? { spn: Number(f.split("/")[0]), fmi: Number(f.split("/")[1]) } : { code: f });

/** The fields of one kind. */
function Fields({ kind, m, book, query, onDraft }) {
  const props = { m, book, onDraft, start: query.point };
  const items = (list) => list.map((i) => [i.item ?? i.name, i.label]);
  switch (kind) {
    case "reading": return html`<${Reading} ...${props} />`;
    case "found": return html`<${Found} ...${props} />`;
    case "done": return html`<${Done} ...${props} start=${query.task} />`;
    case "turn": return html`<${Turn} ...${props} />`;
    case "meter": return html`<${Meter} ...${props} />`;
    case "burn": return html`<${Burn} ...${props} />`;
    case "opened": return html`<${One} name="what" list=${items(book.put_back_items.filter((i) => !m.put_back.some((o) => o.item === i.name)))} start=${query.what} make=${(what) => ({ what })} onDraft=${onDraft} />`;
    case "put-back": return html`<${One} name="what" list=${items(m.put_back)} start=${query.what} make=${(what) => ({ what })} onDraft=${onDraft} />`;
    case "fault-cleared": return html`<${One} name="code" list=${m.due.filter((d) => d.kind === "fault").map((d) => [d.key, d.label])} start=${query.point} make=${faultKey} onDraft=${onDraft} />`;
    case "machine-in": return html`<${Back} m=${m} onDraft=${onDraft} />`;
    case "note": return html`<${Note} onDraft=${onDraft} />`;
    case "attachment": return html`<p class="says">${t("record.photo_below")}</p>`;
    default: return html`<${Plain} kind=${kind} onDraft=${onDraft} />`;
  }
}

function Note({ onDraft }) {
  return html`<${Field} name="text" label=${t("record.note_text")}><textarea rows="4" onInput=${(e) => onDraft(e.target.value.trim() ? { text: e.target.value.trim() } : null)}></textarea><//>`;
}

/** Back in service, or its site, options or duty changed: the registration as it stands, to be changed. */
function Back({ m, onDraft }) {
  const [given, setGiven] = useState({ site: m.site, options: m.options.join(", "), severe: m.severe });
  const body = () => ({ book: m.book.id, serial: m.serial, ...(m.label ? { label: m.label } : {}), ...(given.site ? { site: given.site } : {}), options: given.options.split(",").map((o) => o.trim()).filter(Boolean), severe: given.severe, ...(m.in_service ? { in_service: m.in_service } : {}) });
  useEffect(() => onDraft(body()), [JSON.stringify(given)]);
  return html`<${Field} name="site" value=${given.site} onInput=${(e) => setGiven({ ...given, site: e.target.value })} /><${Field} name="options" label=${t("machine.fitted")} value=${given.options} onInput=${(e) => setGiven({ ...given, options: e.target.value })} />
    <label class="chip"><input type="checkbox" checked=${given.severe} onChange=${(e) => setGiven({ ...given, severe: e.target.checked })} /><span>${t("machine.severe")}</span></label>`;
}

const WITH_NOTE = ["reading", "found", "done", "turn", "opened", "put-back"];

function Form({ m, book, kinds, query, who }) {
  const [kind, setKind] = useState(kinds.includes(query.kind) ? query.kind : kinds[0]);
  const [draft, setDraft] = useState(null);
  const [turn, setTurn] = useState(0); // a new form after each entry
  const [error, setError] = useState(null);
  const [made, setMade] = useState(null);
  const form = useRef(null);
  const choose = (k) => {
    setKind(k);
    setDraft(null);
    setError(null);
    setMade(null);
  };
  async function submit(event) {
    event.preventDefault();
    const given = new FormData(form.current);
    const files = [...(form.current.elements.photo?.files ?? [])];
    const at = given.get("at") ? new Date(given.get("at")).toISOString() : null;
    const note = WITH_NOTE.includes(kind) && given.get("note") ? { note: given.get("note") } : {};
    try {
      let answer = null;
      if (draft) {
        answer = await record({ machine: m?.serial ?? null, kind, body: { ...draft, ...note }, at });
      }
      for (const file of files) {
        const photo = await attach({ file, about: answer?.entry?.id ?? null, machine: m?.serial ?? null });
        answer ??= photo;
      }
      const said = answer.state === "depot" ? await ask(["log", answer.entry.id]).catch(() => null) : null;
      setMade({ ...answer, says: said?.says ?? word("entry_kind", kind) });
      setError(null);
      setDraft(null);
      setTurn(turn + 1);
    } catch (wrong) {
      setMade(null);
      setError(wrong);
    }
  }
  const needsDraft = kind !== "attachment";
  return html`<div class="choices kinds" role="group" aria-label=${t("record.what")}>${kinds.map((k) => html`<button type="button" class="chip" aria-pressed=${String(k === kind)} onClick=${() => choose(k)}>${word("entry_kind", k)}</button>`)}</div>
    ${made ? html`<div class="sheet made" role="status"><${Stripe} state=${made.state ?? "depot"} words /><p><strong>${quantity(made.says)}</strong></p></div>` : null}
    <form class="sheet form record" ref=${form} onSubmit=${submit} key=${`${kind} ${turn}`}><h2>${word("entry_kind", kind)}</h2>
      <${Fields} kind=${kind} m=${m} book=${book} query=${query} onDraft=${setDraft} />
      <details class="more" open=${kind === "attachment"}><summary>${t("record.more")}</summary><div class="form">
        ${WITH_NOTE.includes(kind) ? html`<${Field} name="note" maxlength="400" />` : null}
        <${Field} name="photo" label=${t("record.photo")} type="file" accept="image/*,application/pdf,text/*" multiple required=${kind === "attachment"} />
        ${kind === "attachment" ? null : html`<${Field} name="at" label=${t("record.at")} type="datetime-local" hint=${t("record.at_hint")} />`}</div></details>
      ${error ? html`<${Trouble} error=${error} />` : null}
      <p class="go"><button type="submit" class="button main" disabled=${needsDraft && !draft}>${t("record.enter")}</button><span class="says">${t("record.by", { name: who?.name ?? "" })}</span></p></form>`;
}

/** A machine's forms need its book; without one only what needs none. */
function OfMachine({ name, query, who }) {
  const machine = useAsk(["machines", name]);
  const book = useAsk(["machines", name, "book"]);
  const both = { error: machine.error, data: machine.data && (book.data || book.error) ? machine.data : null };
  return html`<${Answer} whole of=${both}>${(m) => html`
    <div class="lead"><${Plate} name=${m.name} large link /><h1>${t("record.title")}</h1></div>
    ${book.error ? html`<${Trouble} error=${book.error} />` : null}
    <${Form} m=${m} book=${book.data} kinds=${book.data ? OF_MACHINE : ["meter", "fault-seen", "note", "attachment", "machine-out"]} query=${query} who=${who} />
    <${PutBackBar} items=${m.put_back.map((o) => ({ item: o.item, label: o.label, since: o.since_local, by: o.by }))} onBack=${(i) => go(to(["m", m.name, "record"], { kind: "put-back", what: i.item }))} />`}<//>`;
}

export default function Record({ params, query, who }) {
  useTitle(`${t("record.title")} ${params.name ?? ""}`.trim());
  return params.name ? html`<${OfMachine} key=${JSON.stringify(query)} name=${params.name} query=${query} who=${who} />`
    : html`<div class="lead"><h1>${t("record.title")}</h1><p>${t("record.of_depot")}</p></div><${Form} kinds=${OF_DEPOT} query=${query} who=${who} />`;
}
