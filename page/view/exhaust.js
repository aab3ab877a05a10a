// The exhaust filter: soot as a level over the coming jobs, bands where burning is forbidden, the stop where a parked burn fits.
// The plan is computed on this device by the core, so that it works without a network once the machine is kept.
import { html, to, useAsk, useEffect, useMemo, useState, useTitle } from "../lib/ui.js";
import { may } from "../lib/api.js";
import { loadCore } from "../lib/core.mjs";
import { dayWords, number, timeLocal } from "../lib/format.js";
import { record } from "../lib/record.js";
import { t } from "../lib/words.js";
import { Caution } from "../part/caution.js";
import { Plate } from "../part/plate.js";
import { Answer, Trouble } from "../part/trouble.js";

let core = null; // promise of the core; asked for anew after a failure
const theCore = () => {
  core ??= loadCore(fetch("core.wasm")).catch((error) => { core = null; throw error; });
  return core;
};

const PLACES = ["dusty", "dry-vegetation", "indoors", "public", "combustibles"];
const percent = (share) => `${number(100 * share)} %`;
const band = (b) => t("exhaust.band", { p50: number(100 * b.p50), p10: number(100 * b.p10), p90: number(100 * b.p90) });
const hoursBand = (b) => (b.p50 === null ? t(b.p10 === null ? "exhaust.not_within" : "exhaust.hardly_within", { h: 160, p10: number(b.p10 ?? 0) })
  : b.p50 <= 0 ? t("exhaust.now") : t("exhaust.hours", { p50: number(b.p50), p10: number(b.p10), p90: b.p90 === null ? t("exhaust.later") : number(b.p90) }));

// ---- the jobs, kept on this device ----

const keyOf = (serial) => `witmark.jobs.${serial}`;
function kept(serial) {
  try {
    return JSON.parse(localStorage.getItem(keyOf(serial))) ?? { ban: false, jobs: [] };
  } catch {
    return { ban: false, jobs: [] };
  }
}
function keep(serial, state) {
  try {
    localStorage.setItem(keyOf(serial), JSON.stringify(state));
  } catch { /* private windows keep nothing */ }
}

const asRow = (job) => ({ job: job.name, when: job.when, duty: job.duty, hours: job.hours, places: job.places, stop: job.stop === "" ? "" : job.stop, at: job.hard ? "hard-standing" : "" });

// ---- the level ----

const W = 360;
const H = 210;
const TOP = 22;
const LEFT = 34;
const BOTTOM = H - 20;

function Level({ plan }) {
  const total = plan.jobs.reduce((sum, j) => sum + j.hours, 0);
  const most = Math.max(plan.limits.derate + 0.1, ...plan.points.map((p) => Math.min(p.p90, plan.limits.past)));
  const x = (h) => LEFT + (h / total) * (W - LEFT - 6);
  const y = (load) => BOTTOM - (Math.min(load, most) / most) * (BOTTOM - TOP);
  const starts = plan.jobs.map((_, k) => plan.jobs.slice(0, k).reduce((sum, j) => sum + j.hours, 0));
  const line = (key) => plan.points.map((p) => `${x(p.hours).toFixed(1)},${y(p[key]).toFixed(1)}`);
  const limits = [["begin", plan.limits.begin], ["demand", plan.limits.demand], ["derate", plan.limits.derate]];
  const burns = plan.stops.filter((s) => s.burn);
  const said = t("exhaust.level_says", { jobs: plan.jobs.length, inhibited: plan.jobs.filter((j) => j.inhibit).length, burns: burns.length, most: percent(Math.max(...plan.points.map((p) => p.p50))) });
  return html`<svg class="soot-level" viewBox=${`0 0 ${W} ${H}`} role="img" aria-label=${said}>
    <defs><pattern id="no-burn" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="soot-hatch" d="M0 0V6" /></pattern></defs>
    ${plan.jobs.map((j, k) => html`<g><rect class=${j.inhibit ? "soot-forbidden" : "soot-free"} x=${x(starts[k])} y=${TOP} width=${x(starts[k] + j.hours) - x(starts[k])} height=${BOTTOM - TOP} />
      <text class="soot-job" x=${(x(starts[k]) + x(starts[k] + j.hours)) / 2} y=${BOTTOM + 14} text-anchor="middle">${j.job}</text></g>`)}
    ${limits.map(([name, at]) => html`<g><path class=${`soot-limit ${name}`} d=${`M${LEFT} ${y(at)}H${W - 6}`} /><text class="soot-axis" x=${LEFT - 4} y=${y(at) + 4} text-anchor="end">${number(100 * at)}</text></g>`)}
    <polygon class="soot-band" points=${[...line("p90"), ...line("p10").reverse()].join(" ")} />
    <polyline class="soot-middle" points=${line("p50").join(" ")} />
    ${burns.map((s) => html`<g><path class="soot-burn" d=${`M${x(starts[s.stop - 1])} ${TOP - 4}V${BOTTOM}`} /><text class="soot-burn-word" x=${Math.min(Math.max(x(starts[s.stop - 1]), LEFT + 24), W - 30)} y=${TOP - 8} text-anchor="middle">${t("exhaust.burn")}</text></g>`)}
    <path class="soot-frame" d=${`M${LEFT} ${TOP}V${BOTTOM}H${W - 6}`} /></svg>
    <p class="soot-key"><span class="swatch forbidden"></span>${t("exhaust.key.forbidden")} <span class="swatch level"></span>${t("exhaust.key.level")} <span class="swatch post"></span>${t("exhaust.key.burn")}</p>`;
}

// ---- what the plan says ----

const because = (list) => list.map((b) => t(`exhaust.why.${b.place}`)).join(", ");

function StopLine({ stop, plan }) {
  if (stop.burn) {
    return html`<li class="plan-stop burns"><strong>${t("exhaust.burn_here", { n: stop.stop, job: stop.before, load: percent(stop.soot) })}</strong>
      <span class="says">${t("exhaust.burn_takes", { prepare: plan.costs_minutes.prepare, burn: plan.burn_minutes, cool: plan.cool_minutes })}${stop.ask_fire_ban ? ` ${t("exhaust.ask_ban")}` : ""}</span></li>`;
  }
  const why = [stop.because.length ? because(stop.because) : "", stop.too_short ? t("exhaust.too_short", { min: stop.needs_minutes }) : ""].filter(Boolean).join(", ");
  return stop.permitted || !stop.before ? null : html`<li class="plan-stop"><span class="says">${t("exhaust.no_burn", { job: stop.before, why })}</span></li>`;
}

const JobLine = ({ job }) => html`<li class="plan-job"><span class="job-number">${job.job}</span>
  <span><strong>${job.name}</strong> <span class="says">${t("exhaust.job_hours", { h: number(job.hours, Number.isInteger(job.hours) ? 0 : 1) })}</span>
  <span class=${job.inhibit ? "inhibit" : "free"}>${job.inhibit ? t("exhaust.inhibit", { why: because(job.because) }) : t("exhaust.let_burn")}</span>
  <span class="says">${t("exhaust.after", { band: band(job.soot_after) })}${job.demanded >= 0.005 ? `, ${t("exhaust.demanded_chance", { p: percent(job.demanded) })}` : ""}${job.derated >= 0.005 ? `, ${t("exhaust.power_chance", { p: percent(job.derated) })}` : ""}</span></span></li>`;

function Refused({ plan }) {
  const better = plan.better_stop && plan.stops[plan.better_stop - 1];
  return html`<div class="refused" role="alert"><p><strong>${t(plan.word === "past burning in the field" ? "exhaust.past" : "exhaust.refused")}</strong>
    ${t("exhaust.refused.why", { p: percent(plan.derated) })}</p>
    <p>${plan.word === "past burning in the field" ? t("exhaust.past.right") : better ? t("exhaust.better", { min: better.needs_minutes, n: plan.better_stop, job: better.before }) : t("exhaust.fewer")}</p></div>`;
}

function Plan({ plan }) {
  return html`<section class="sheet" aria-labelledby="plan-title"><h2 id="plan-title">${plan.safe ? t(plan.burns ? "exhaust.planned" : "exhaust.none_needed", { n: plan.burns }) : t("exhaust.refused")}</h2>
    <div class="plan-body">${plan.safe ? null : html`<${Refused} plan=${plan} />`}<${Level} plan=${plan} />
    <ol class="plan-lines">${plan.jobs.map((job, k) => html`<${StopLine} stop=${plan.stops[k]} plan=${plan} /><${JobLine} job=${job} />`)}</ol>
    <p class="says">${t("exhaust.against", { cost: number(plan.cost_minutes), idle: number(plan.without_burns.cost_minutes), demanded: percent(plan.demanded), idle_demanded: percent(plan.without_burns.demanded) })}</p></div></section>`;
}

// ---- what the person enters ----

function JobForm({ job, k, duties, change, drop }) {
  const set = (news) => change({ ...job, ...news });
  const toggle = (place) => set({ places: job.places.includes(place) ? job.places.filter((p) => p !== place) : [...job.places, place] });
  const says = [duties.find((d) => d.name === job.duty)?.label ?? t("exhaust.usual"), t("exhaust.job_hours", { h: job.hours }), ...job.places.map((place) => t(`exhaust.place.${place}`))];
  return html`<details class="job"><summary><strong>${t("exhaust.job", { n: k + 1 })}</strong> ${says.join(", ")}</summary>
    <label class="field"><span>${t("exhaust.duty")}</span><select value=${job.duty} onChange=${(e) => set({ duty: e.target.value })}>
      <option value="">${t("exhaust.usual")}</option>${duties.map((d) => html`<option value=${d.name}>${d.label}</option>`)}</select></label>
    <label class="field short"><span>${t("exhaust.hours_of")}</span><input type="number" min="0.25" max="100" step="0.25" value=${job.hours} onInput=${(e) => set({ hours: e.target.value })} /></label>
    <div class="places">${PLACES.map((place) => html`<label class="tick"><input type="checkbox" checked=${job.places.includes(place)} onChange=${() => toggle(place)} /><span>${t(`exhaust.place.${place}`)}</span></label>`)}</div>
    <div class="places"><label class="field short"><span>${t("exhaust.stop_before")}</span><input type="number" min="0" max="600" step="5" placeholder=${t("exhaust.enough")} value=${job.stop} onInput=${(e) => set({ stop: e.target.value })} /></label>
      <label class="tick"><input type="checkbox" checked=${job.hard} onChange=${() => set({ hard: !job.hard })} /><span>${t("exhaust.hard")}</span></label></div>
    <button type="button" class="button small" onClick=${drop}>${t("exhaust.drop_job")}</button></details>`;
}

function Jobs({ state, set, duties }) {
  const change = (jobs) => set({ ...state, jobs });
  const add = () => change([...state.jobs, { name: "", when: "", duty: "", hours: "7", places: [], stop: "", hard: false, ...(state.jobs.at(-1) ?? {}) }]);
  return html`<section class="sheet" aria-labelledby="jobs-title"><h2 id="jobs-title">${t("exhaust.jobs")}</h2><div class="plan-body">
    <label class="tick"><input type="checkbox" checked=${state.ban} onChange=${() => set({ ...state, ban: !state.ban })} /><span>${t("exhaust.fire_ban")}</span></label>
    ${state.jobs.map((job, k) => html`<${JobForm} key=${k} k=${k} job=${job} duties=${duties} change=${(news) => change(state.jobs.map((j, i) => (i === k ? news : j)))} drop=${() => change(state.jobs.filter((_, i) => i !== k))} />`)}
    <p class="go"><button type="button" class="button" onClick=${add}>${t("exhaust.add_job")}</button></p></div></section>`;
}

/** Buttons that write down what was done at the machine; they never do it. */
function Written({ x, who }) {
  const [error, setError] = useState(null);
  const [said, setSaid] = useState("");
  const [ticks, setTicks] = useState([]);
  const write = async (type, more = {}) => {
    try {
      await record({ machine: x.machine, kind: "burn", body: { type, ...more } });
      setError(null);
      setTicks([]);
      setSaid(t(`exhaust.written.${type}`));
    } catch (wrong) {
      setError(wrong);
    }
  };
  const ready = ticks.length === x.checklist.length;
  return html`<section class="sheet" aria-labelledby="burn-title"><h2 id="burn-title">${t("exhaust.before")}</h2><div class="plan-body">
    <${Caution} level="WARNING" say=${t("exhaust.caution")} />
    <ul class="checks">${x.checklist.map((c) => html`<li><label class="tick"><input type="checkbox" checked=${ticks.includes(c.key)} onChange=${() => setTicks(ticks.includes(c.key) ? ticks.filter((k) => k !== c.key) : [...ticks, c.key])} /><span>${t(`exhaust.check.${c.key}`)}</span></label></li>`)}</ul>
    <p class="says">${t("exhaust.own_switches")}</p>
    ${error ? html`<${Trouble} error=${error} />` : null}
    ${may(who, "record") ? html`<p class="go"><button type="button" class="button main" disabled=${!ready} onClick=${() => write("parked", { minutes: x.burn_minutes })}>${t("exhaust.write.parked")}</button>
      ${x.inhibited ? html`<button type="button" class="button" onClick=${() => write("released")}>${t("exhaust.write.released")}</button>` : html`<button type="button" class="button" onClick=${() => write("inhibited")}>${t("exhaust.write.inhibited")}</button>`}
      <span role="status">${said}</span></p>` : null}</div></section>`;
}

function State({ x }) {
  const rows = [
    ["load", x.known ? `${band(x.load)}; ${t("exhaust.from", { what: t(`exhaust.what.${x.from.what}`), at: timeLocal(x.from.at_local), h: number(x.from.hours_since ?? 0, 1) })}` : t("exhaust.unknown")],
    ["demanded", x.known ? `${hoursBand(x.hours_left.demanded)}${x.days.p50 ? `, ${dayWords(x.days.p50)}` : ""}` : ""],
    ["power", x.known ? hoursBand(x.hours_left.power_reduced) : ""],
    ["rate", t("exhaust.rate_says", { own: number(100 * x.rate.soot_per_hour, 1), book: number(100 * x.rate.book_soot_per_hour, 1), n: x.rate.stretches })],
    ["ash", x.ash ? t("exhaust.ash_says", { g: number(x.ash.grams), most: number(x.ash.at_most_grams), p50: number(x.ash.hours_left.p50), p10: number(x.ash.hours_left.p10), p90: number(x.ash.hours_left.p90) }) : ""],
  ].filter(([, value]) => value);
  return html`${x.inhibited ? html`<${Caution} level="CAUTION" say=${t("exhaust.left_on", { since: timeLocal(x.inhibited_since_local), by: x.inhibited_by || "", h: number(x.inhibited_hours ?? 0, 1) })} />` : null}
    <section class="sheet"><dl class="soot-state">${rows.map(([name, value]) => html`<div><dt>${t(`exhaust.${name}`)}</dt><dd>${value}</dd></div>`)}</dl></section>`;
}

const History = ({ x }) => (x.history.length ? html`<section class="sheet history" aria-labelledby="burns-title"><h2 id="burns-title">${t("exhaust.history")}</h2>
  <ol>${x.history.slice(0, 12).map((b) => html`<li><span class="when">${timeLocal(b.at_local)}</span><span>${t(`exhaust.what.${b.what}`)} ${b.load !== null ? percent(b.load) : b.minutes !== null ? t("exhaust.minutes", { n: number(b.minutes) }) : ""}</span><span class="by">${b.by}</span></li>`)}</ol></section>` : null);

function One({ x, who }) {
  const [state, setState] = useState(() => kept(x.machine));
  const [plan, setPlan] = useState(null);
  const [error, setError] = useState(null);
  const set = (news) => { keep(x.machine, news); setState(news); };
  const jobs = useMemo(() => state.jobs.map(asRow), [state]);
  useEffect(() => {
    let mine = true;
    if (!x.known || jobs.length === 0) {
      setPlan(null);
      setError(null);
      return undefined;
    }
    theCore().then((engine) => engine.exhaust(x.question, jobs, state.ban).plan)
      .then((made) => mine && (setPlan(made), setError(null)), (wrong) => mine && (setPlan(null), setError(wrong)));
    return () => { mine = false; };
  }, [x.question, jobs, state.ban]);
  return html`<${State} x=${x} />
    ${x.known ? html`<${Jobs} state=${state} set=${set} duties=${x.duties} />` : null}
    ${error ? html`<${Trouble} error=${error} />` : null}
    ${plan ? html`<${Plan} plan=${plan} />` : null}
    <${Written} x=${x} who=${who} /><${History} x=${x} />`;
}

function All() {
  const answer = useAsk(["exhaust"]);
  useTitle(t("tab.exhaust"));
  return html`<${Answer} whole of=${answer}>${(list) => html`<div class="lead"><h1>${t("exhaust.title")}</h1></div>
    ${list.length ? html`<ul class="sheet machines">${list.map((m) => html`<li><a href=${to(["m", m.name, "exhaust"])}><${Plate} name=${m.name} />
      <span class="what"><strong>${m.known ? percent(m.load.p50) : t("exhaust.unknown")}</strong> <span class="says">${m.known ? `${t("exhaust.demanded")} ${hoursBand(m.hours_left.demanded)}` : ""}</span></span>
      <span class="worst">${m.inhibited ? t("exhaust.is_inhibited") : ""}</span></a></li>`)}</ul>` : html`<p class="sheet empty">${t("exhaust.no_machine")}</p>`}`}<//>`;
}

function Machine({ name, who }) {
  const answer = useAsk(["machines", name, "exhaust"]);
  useTitle(`${name}, ${t("tab.exhaust")}`);
  return html`<${Answer} whole of=${answer}>${(x) => html`<div class="lead"><${Plate} name=${x.name} large link /><h1>${t("exhaust.title")}</h1></div><${One} key=${x.machine} x=${x} who=${who} />`}<//>`;
}

export default function Exhaust({ params, who }) {
  return params.name ? html`<${Machine} name=${params.name} who=${who} />` : html`<${All} />`;
}
