// The round of one machine: what it covers, what to bring, each step in order. A change of the machine's condition is inverted,
// so that it can't be mistaken for a check; the caution stands before what it guards.
import { classes, go, html, to, useAsk, useMedia, useTitle } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { proofWords, quantity, timeWords } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Cautions } from "../part/caution.js";
import { Drawing } from "../part/drawing.js";
import { ReadGauge } from "../part/gauge.js";
import { Plate, machineAddress } from "../part/plate.js";
import { OpensAndCloses, PutBackBar } from "../part/putback.js";
import { Answer, Trouble } from "../part/trouble.js";

function Chooser({ m, asked }) {
  const at = (parameters) => `${machineAddress(m.name, "round")}?${new URLSearchParams(parameters)}`;
  const chip = (label, scope) => html`<a class="chip" href=${at({ scope })} aria-current=${asked.scope === scope ? "true" : null}>${label}</a>`;
  const submit = (event) => {
    event.preventDefault();
    go(at({ scope: "within", within: event.target.elements.within.value }));
  };
  return html`<nav class="scope" aria-label=${t("round.covers")}>${chip(t("round.due"), "due")}${chip(t("round.daily"), "daily")}
    <form class=${classes("chip", asked.scope === "within" && "chosen")} onSubmit=${submit}><label for="within">${t("round.within_hours")}</label>
      <input type="number" id="within" name="within" min="1" max="5000" step="1" inputmode="numeric" value=${asked.within || "50"} /><span>h</span><button type="submit">${t("show")}</button></form>
    ${(m.card.services ?? []).filter((s) => s.name !== "daily").map((s) => chip(s.label, s.name))}</nav>`;
}

function Where({ r, shown, before, wide }) {
  const figure = shown && r.figures.find((f) => f.name === shown.name);
  if (!figure || (before && before.name === shown.name && before.mark === shown.mark)) {
    return null;
  }
  const mark = figure.marks.find((k) => k.number === shown.mark);
  return html`<details class="where" open=${wide}><summary>${t("round.where")} ${mark ? html`<span class="mark out" aria-hidden="true">${mark.number}</span>` : null}<span>${mark ? mark.label : figure.title}</span></summary>
    <${Drawing} machine=${r.machine.label} figure=${figure} marks=${mark ? [{ ...mark, look: "out" }] : []} description=${mark ? `${figure.title}, ${mark.number}: ${mark.label}` : figure.title} />
    <p class="says">${figure.title}</p></details>`;
}

function Reading({ read }) {
  if (!read) {
    return null;
  }
  const also = (read.also ?? []).map((a) => [a.name, a.unit].filter(Boolean).join(", ")).join("; ");
  const says = [read.want ? t("card.want", { want: read.want }) : "", read.refer_to ? t("round.judged", { to: read.refer_to }) : "", also ? t("round.read_also", { also }) : "", read.last ? t("round.last", { last: read.last }) : ""];
  return html`<div class="reading"><p class="limits"><span>${read.measure}</span> <strong>${quantity(read.limits)}</strong></p><${ReadGauge} read=${read} /><p class="says">${quantity(says.filter(Boolean).join("; "))}</p></div>`;
}

const Needs = ({ title, items }) => (items?.length ? html`<p class="needs"><span>${title} </span>${quantity(items.join(", "))}</p>` : null);

/** The steps of a task; a drawing is not shown twice in a row. */
const TaskSteps = ({ r, step, wide }) => html`<ol class="acts">${(step.steps ?? []).map((s, i) => html`<li><${Cautions} list=${s.cautions} />
  <p class="act">${s.act}${s.place ? html`<span class="says"> ${s.place}</span>` : null}</p>
  <${Needs} title=${t("round.torque")} items=${s.torques} /><${Needs} title=${t("round.tools")} items=${s.tools} /><${Needs} title=${t("round.take_back")} items=${s.waste ? [s.waste] : []} />
  <${OpensAndCloses} ...${s} /><${Where} r=${r} shown=${s.figure} before=${i ? step.steps[i - 1].figure ?? step.figure : step.figure} wide=${wide} /></li>`)}</ol>`;

const Step = ({ r, step, before, wide }) => html`<li class=${`step ${step.type}`} value=${step.n}><span class=${`knot ${step.type}`} aria-hidden="true"></span><div class="body">
  <p class="over"><span>${step.n} ${t(`round.type.${step.type}`)}</span><span>${[step.place, timeWords(step.takes_s)].filter(Boolean).join(" \u00b7 ")}</span></p>
  <${Cautions} list=${step.cautions} /><h3>${step.type === "change" ? step.act : step.label}</h3>
  ${step.why ? html`<p class="says">${step.why}</p>` : null}
  ${step.look?.length ? html`<p class="look"><span class="says">${t("round.look_for")} </span>${step.look.join(" \u00b7 ")}</p>` : null}
  <${Reading} read=${step.read} /><${Needs} title=${t("round.parts")} items=${step.parts} /><${Needs} title=${t("round.fluids")} items=${step.fluids} /><${Needs} title=${t("round.tools")} items=${step.tools} />
  ${step.type === "task" ? html`<${TaskSteps} r=${r} step=${step} wide=${wide} />` : null}<${OpensAndCloses} ...${step} /></div>
  <${Where} r=${r} shown=${step.figure} before=${before} wide=${wide} /></li>`;

const KitLines = ({ title, rows }) => (rows?.length ? html`<div><h3>${title}</h3><ul>${rows.map((row) => html`<li>${row}</li>`)}</ul></div>` : null);
const kitLine = (quantityOf, label, note) => html`<strong>${quantity(quantityOf)}</strong> ${label} <span class="says">${quantity(note)}</span>`;

const Kit = ({ kit }) => html`<details class="sheet kit"><summary><h2>${t("round.bring")}</h2> <span class="says">${[t("count.parts", { n: kit.parts.length }), t("count.fluids", { n: kit.fluids.length }), t("count.tools", { n: kit.tools.length })].join(", ")}</span></summary>
  <div class="kit-lists"><${KitLines} title=${t("round.wear")} rows=${kit.equipment} />
    <${KitLines} title=${t("round.parts")} rows=${kit.parts.map((p) => kitLine(p.quantity, p.label, [p.number, p.instead_of ? t("card.instead_of", { number: p.instead_of }) : ""].filter(Boolean).join(", ")))} />
    <${KitLines} title=${t("round.fluids")} rows=${kit.fluids.map((f) => kitLine(f.quantity, f.label, f.is))} /><${KitLines} title=${t("round.tools")} rows=${kit.tools} />
    <${KitLines} title=${t("round.torques")} rows=${kit.torques.map((q) => kitLine(q.torque, q.label, q.note ?? ""))} /><${KitLines} title=${t("round.take_back")} rows=${kit.waste} /></div></details>`;

const PutBack = ({ list }) => (list.length ? html`<section class="sheet put-back" aria-labelledby="put-back-title"><h2 id="put-back-title">${t("round.nothing_open")}</h2>
  <ul>${list.map((p) => html`<li><strong>${p.label}</strong> <span class="says">${p.closed_at ? t("round.opened_closed", { opened: p.opened_at, closed: p.closed_at }) : t("round.opened_left", { opened: p.opened_at })}</span></li>`)}</ul></section>` : null);

function Whole({ r, query }) {
  const wide = useMedia("(min-width: 60rem), print");
  const first = r.steps.length ? html`<p class="go"><a class="button main" href=${to(["m", r.machine.label, "round", "walk"], query)}>${t("walk.walk_it")}</a><a class="button" href=${address(["machines", r.machine.label, "sheet.pdf"], query)}>${t("machine.sheet")}</a></p>
    <p class="first-words">${r.first_words}</p><section class="before" aria-label=${t("round.before")}><${Cautions} list=${r.before} /></section><${Kit} kit=${r.kit} />
    <section aria-label=${t("round.steps")}><h2 class="unseen">${t("round.steps")}</h2><ol class="steps">${r.steps.map((step, i) => html`<${Step} key=${step.n} r=${r} step=${step} before=${r.steps.slice(0, i).findLast((s) => s.figure)?.figure} wide=${wide} />`)}</ol></section>
    <${PutBack} list=${r.put_back} />` : null;
  return html`${first}<${PutBackBar} items=${r.open_now} />`;
}

export default function Round({ params, query }) {
  const asked = { scope: query.scope || "due", within: query.within, minutes: query.minutes };
  const machine = useAsk(["machines", params.name]);
  const wanted = { scope: asked.scope, within: asked.scope === "within" ? asked.within || "50" : null, minutes: asked.minutes };
  const answer = useAsk(["machines", params.name, "round"], wanted);
  const r = answer.data;
  useTitle(`${t("round.title")} ${params.name}`);
  if (machine.error) {
    return html`<h1>${t("not_shown")}</h1><${Trouble} error=${machine.error} />`;
  }
  return html`<div class="lead round-head"><${Plate} name=${params.name} large link /><div><h1>${r ? r.title : t("round.title")}</h1>
      <p>${r ? (r.steps.length ? t("round.says", { steps: t("count.steps", { n: r.steps.length }), total: timeWords(r.total_s), moves: timeWords(r.moves_s), proof: proofWords(r) }) : t("round.nothing")) : ""}</p></div></div>
    ${machine.data ? html`<${Chooser} m=${machine.data} asked=${asked} />` : null}
    <${Answer} of=${answer}>${(data) => html`<${Whole} r=${data} query=${wanted} />`}<//>`;
}
