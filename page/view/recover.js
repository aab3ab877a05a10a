// Moving a dead machine: is it within the book's limits, what to take and where it lies, one step after the other with its caution
// first, the moves with their running total, and the exact reverse. Where it stands is known from the entries, also without a network.
import { classes, html, to, useAsk, useState, useTitle } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { recoverQuestion, stepEntries } from "../lib/adjust.js";
import { number, quantity, timeWords } from "../lib/format.js";
import { useHere } from "../lib/here.js";
import { recordAll } from "../lib/record.js";
import { t, word } from "../lib/words.js";
import { Caution, Cautions } from "../part/caution.js";
import { NumberPad } from "../part/pad.js";
import { Plate, machineAddress } from "../part/plate.js";
import { OpensAndCloses } from "../part/putback.js";
import { Answer, Trouble, Waiting } from "../part/trouble.js";

const LIMITS = ["distance", "speed", "slope", "time", "load"];
const IN = { distance: (v) => `${number(v)} m`, speed: (v) => `${number(v * 3.6, 1)} km/h`, slope: (v) => `${number(v * 100, 1)} %`, time: (v) => timeWords(v), load: (v) => `${number(v)} kg` };

function Limits({ now }) {
  return html`<div class="table"><table><caption>${t("recovery.limits")}</caption><thead><tr><th></th><th scope="col">${t("recovery.at_most")}</th><th scope="col">${t("recovery.so_far")}</th><th scope="col">${t("recovery.left")}</th></tr></thead>
    <tbody>${LIMITS.filter((l) => now.limits[l].limit !== null).map((l) => {
      const { limit, value, left, exceeded } = now.limits[l];
      return html`<tr class=${exceeded ? "exceeded" : null}><th scope="row">${t(`recovery.${l}`)}</th><td>${quantity(IN[l](limit))}</td><td>${!value ? "" : quantity(IN[l](value))}${exceeded ? html` <strong>${t("recovery.exceeded")}</strong>` : null}</td><td>${left === null ? "" : quantity(IN[l](left))}</td></tr>`;
    })}</tbody></table></div>`;
}

/** How far, how long: written down as a move. */
function Move({ busy, onMove }) {
  const [distance, setDistance] = useState("");
  const [minutes, setMinutes] = useState("");
  return html`<div class="move"><${NumberPad} value=${distance} onInput=${setDistance} unit="m" label=${t("recovery.moved_by")} />
    <label class="field"><span>${t("recovery.minutes")}</span><input inputmode="decimal" value=${minutes} onInput=${(e) => setMinutes(e.target.value)} /></label>
    <button type="button" class="button main" disabled=${busy || !(parseFloat(distance) > 0)} onClick=${() => onMove(parseFloat(distance), parseFloat(minutes.replace(",", ".")), () => { setDistance(""); setMinutes(""); })}>${t("recovery.moved")}</button></div>`;
}

/** The plan against the limits, before anything is released. */
function Plan({ plan, onPlan }) {
  const field = (name, unit) => html`<label class="field"><span>${t(`recovery.${name}`)}, ${unit}</span><input inputmode="decimal" value=${plan[name]} onInput=${(e) => onPlan({ ...plan, [name]: e.target.value })} /></label>`;
  return html`<div class="plan-fields">${field("distance", "m")}${field("slope", "%")}${field("load", "kg")}</div>`;
}

function Step({ step, current, busy, onDid }) {
  return html`<li class=${classes("recover-step", step.done && "done", current && "current")} aria-current=${current ? "step" : null}>
    ${current ? html`<${Cautions} list=${step.cautions} />` : null}
    <p class="act"><span class="tick" aria-hidden="true">${step.done ? "✓" : ""}</span><span><strong>${step.act}</strong>${step.place ? html`<span class="says">${step.place}</span>` : null}</span></p>
    ${current ? html`<${OpensAndCloses} opens=${step.opens ? [step.opens] : []} closes=${step.closes ? [step.closes] : []} />
      <button type="button" class="button main" disabled=${busy} onClick=${onDid}>${t("recovery.did")}</button>` : null}</li>`;
}

const figures = (plan) => [parseFloat(plan.distance), NaN, parseFloat(plan.slope) / 100, parseFloat(plan.load)];

function Work({ serial, answer, here, plan, onPlan }) {
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState(null);
  const now = here.core.recover(recoverQuestion(answer, here.entries, figures(plan)));
  const open = new Set(Object.entries(answer.items).filter(([, i]) => now.open.includes(i)).map(([name]) => name));
  const underway = now.phase === "on the move" || now.phase === "putting back";
  const out = answer.out.map((s) => ({ ...s, done: underway || (s.entries.length > 0 && s.entries.every((e) => e.kind === "opened" && open.has(e.what))) }));
  const back = answer.back.map((s) => ({ ...s, done: underway && !now.way_back.includes(s.step) }));
  const write = async (items) => {
    setBusy(true);
    setError(null);
    try {
      await recordAll(items.map((i) => ({ machine: serial, ...i })));
    } catch (e) {
      setError(Object.assign(new Error(e.message), { right: e.right ?? "" }));
    }
    setBusy(false);
  };
  const did = (step) => write(stepEntries(step, open).map(({ kind, what }) => ({ kind, body: { what }, says: step.act })));
  const moved = (metres, minutes, then) => write([{ kind: "moved", body: { distance: { value: metres, unit: "m" }, ...(minutes >= 0 ? { time: { value: minutes, unit: "min" } } : {}) }, says: t("recovery.moved") }]).then(then);
  const roundStep = now.phase === "making ready" ? back.find((s) => s.step === now.way_back[0]) : null;
  return html`<div class="columns even"><div>
      <p class="phase"><strong>${word("recovery.phase", now.phase)}</strong></p>
      ${now.out_of_order ? html`<${Caution} level="DANGER" say=${t("recovery.out_of_order")} />` : null}
      ${now.exceeded ? html`<p class="trouble" role="alert"><strong>${t(now.moves && now.open.length ? "recovery.too_far" : "recovery.no")}</strong></p>` : null}
      ${now.phase === "not begun" ? html`<${Plan} plan=${plan} onPlan=${onPlan} />` : null}
      <${Limits} now=${now} />
      <section class="sheet"><h2>${t("recovery.take")}</h2><ul class="lines">${answer.tools.map((x) => html`<li class="line"><span class="what"><strong>${x.tool}</strong><span class="says">${x.stowed}</span></span></li>`)}</ul></section></div>
    <div><h2>${t("recovery.out")}</h2><ol class="recover-steps">${out.map((s) => html`<${Step} key=${`o${s.step}`} step=${s} busy=${busy} current=${!now.back && now.next === s.step} onDid=${() => did(s)} />`)}</ol>
      ${now.phase === "on the move" ? html`<${Move} busy=${busy} onMove=${moved} />` : null}
      ${roundStep ? html`<p class="go"><button type="button" class="button" disabled=${busy} onClick=${() => did(roundStep)}>${t("recovery.turn_round", { act: roundStep.act })}</button></p>` : null}
      <h2>${t("recovery.back")}</h2><ol class="recover-steps">${back.map((s) => html`<${Step} key=${`b${s.step}`} step=${s} busy=${busy} current=${now.back && now.next === s.step} onDid=${() => did(s)} />`)}</ol>
      ${error ? html`<${Trouble} error=${error} />` : null}</div></div>`;
}

export default function Recover({ params }) {
  const [plan, setPlan] = useState({ distance: "", slope: "", load: "" });
  const answer = useAsk(["machines", params.name, "recover"]);
  const known = answer.data ?? answer.old;
  const here = useHere(known?.serial);
  useTitle(`${params.name} ${t("recovery.title")}`);
  return html`<${Answer} whole of=${{ ...answer, data: known }}>${(r) => html`<div class="lead"><${Plate} name=${r.machine} large /><h1>${t("recovery.title")}</h1></div>
    <${Cautions} list=${r.cautions} />${r.warnings.map((w) => html`<${Caution} level="WARNING" say=${quantity(w)} />`)}
    ${!here ? html`<${Waiting} />` : !here.core ? html`<${Trouble} error=${new Error(t("adjust.no_core"))} />` : html`<${Work} serial=${r.serial} answer=${r} here=${here} plan=${plan} onPlan=${setPlan} />`}
    <p class="go"><a class="button" href=${address(["machines", r.machine, "recover.pdf"])}>${t("recovery.paper")}</a><a class="button" href=${to(["m", params.name, "putback"])}>${t("putback.title")}</a><a class="button" href=${machineAddress(params.name)}>${t("adjust.machine", { name: r.machine })}</a></p>`}<//>`;
}
