// A round, walked with a phone: one step fills the screen, in the computed order. What is done is recorded as entries, on this
// phone first; the round itself is known from them, so that it goes on after a call, an empty battery, or on another phone.
import { classes, go, html, to, useCallback, useEffect, useEvent, useRef, useState, useTitle } from "../lib/ui.js";
import { ask } from "../lib/api.js";
import { loadCore } from "../lib/core.mjs";
import { nextId } from "../lib/chain.js";
import { momentWords, number, quantity, timeWords } from "../lib/format.js";
import { photoEntry, photoOf } from "../lib/photo.js";
import { changes, recordAll, session, store } from "../lib/record.js";
import { actsOf, conditionAfter, conditionNames, conditionWords, happened, keyOf, openNow, nextPlan, scopeOf, startedIn, stepEntry, stepOf, typed, usedIn, whyNot } from "../lib/walk.js";
import { t } from "../lib/words.js";
import { Caution } from "../part/caution.js";
import { EntriesState, useStanding } from "../part/offline.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Stripe } from "../part/stripe.js";
import { Trouble, Waiting } from "../part/trouble.js";
import { ChangeStep, LookStep, MeasureStep, TaskStep } from "../part/walk_step.js";

let core = null; // promise of the core; asked for anew after a failure
const theCore = () => {
  core ??= loadCore(fetch("core.wasm")).catch(() => { core = null; return null; });
  return core;
};

// ---- what is known ----

const plain = (row) => ({ ...row.entry, state: row.state === "refused" ? "refused" : "stands", here: row.state });

/** Entries of the machine made here, and those of its rounds from the depot, oldest first. */
async function entriesOf(serial, remote) {
  const here = ((await (await store())?.entries({ machine: serial })) ?? []).map(plain);
  const known = new Set(here.flatMap((e) => [e.id, `page:${e.id}`]));
  return [...here, ...remote.filter((e) => !known.has(e.id) && !known.has(e.body?.import_key))].sort((a, b) => (a.id < b.id ? -1 : 1));
}

const remoteRounds = (name) => ask(["machines", name, "entries"], { kind: "round,opened,put-back,done", limit: 500 }).then((answer) => answer.entries ?? []).catch(() => []);

/** Rounds that have begun and not ended, the latest first: {round, title, order, condition, by, at, done}. */
function underWay(entries) {
  const ended = new Set(entries.filter((e) => e.kind === "round" && e.body.is === "ended").map((e) => e.body.round));
  return entries
    .filter((e) => e.kind === "round" && e.body.is === "started" && !ended.has(e.body.round))
    .map((e) => ({ round: e.body.round, title: e.body.title, order: e.body.order, condition: e.body.condition ?? [], by: e.by, at: e.at, done: actsOf(entries, e.body.round).length }))
    .reverse();
}

// ---- the view ----

export default function Walk({ params, query }) {
  const [state, set] = useState({ phase: "loading" });
  const scope = { scope: query.scope || (query.round ? null : "due"), within: query.within, minutes: query.minutes };
  useTitle(`${t("round.title")} ${params.name}`);
  useEffect(() => {
    let mine = true;
    begin(params.name, query.round, scope).then((next) => mine && set(next), (error) => mine && set({ phase: "trouble", error }));
    return () => { mine = false; };
  }, [params.name, query.round, JSON.stringify(scope)]);
  if (state.phase === "loading") {
    return html`<h1 class="unseen">${t("round.title")}</h1><${Waiting} />`;
  }
  if (state.phase === "trouble") {
    return html`<h1>${t("not_shown")}</h1><${Trouble} error=${state.error} />`;
  }
  return state.phase === "start" ? html`<${Start} ...${state} name=${params.name} />` : html`<${Going} key=${state.round} ...${state} name=${params.name} />`;
}

async function begin(name, round, scope) {
  const s = await store();
  const kept = round ? await s?.round(round) : null;
  const [engine, remote] = await Promise.all([theCore(), remoteRounds(name)]);
  if (kept) {
    return { phase: "going", doc: kept.doc, round, core: engine, entries: await entriesOf(kept.doc.machine.serial, remote), remote };
  }
  if (round) { // begun on another phone
    const started = remote.find((e) => e.kind === "round" && e.body.is === "started" && e.body.round === round);
    if (!started) {
      throw Object.assign(new Error(t("walk.no_round")), { right: t("walk.no_round.right") });
    }
    const doc = startedIn(await ask(["machines", name, "round", "work"], { scope: scopeOf(started.body.order) }), started.body.condition ?? []);
    const ours = { ...doc, title: started.body.title ?? doc.title };
    await s?.putRound({ id: round, machine: doc.machine.serial, doc: ours, ticks: {} });
    return { phase: "going", doc: ours, round, core: engine, entries: await entriesOf(doc.machine.serial, remote), remote };
  }
  const doc = await ask(["machines", name, "round", "work"], scope);
  const entries = await entriesOf(doc.machine.serial, remote);
  return { phase: "start", doc, core: engine, entries, scope };
}

// ---- before it begins ----

function Start({ doc, entries, name }) {
  const [hours, setHours] = useState("");
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState(null);
  const going = underWay(entries);
  const meter = typed(hours);
  const start = async () => {
    setBusy(true);
    const id = nextId(null, Date.now());
    const order = doc.order.map((ref) => keyOf(doc, ref));
    const machine = doc.machine.serial;
    const items = [{ machine, kind: "round", body: { round: id, is: "started", title: doc.title, order, condition: conditionNames(doc, doc.rules.start) } }];
    if (meter.value !== undefined) {
      items.unshift({ machine, kind: "meter", body: { hours: meter.value } });
    }
    try {
      await (await store())?.putRound({ id, machine, doc, ticks: {} });
      await recordAll(items);
      go(to(["m", name, "round", "walk"], { round: id }), true);
    } catch (e) {
      setError(e);
      setBusy(false);
    }
  };
  const steps = doc.order.length;
  return html`<div class="lead round-head"><${Plate} name=${name} large link /><div><h1>${doc.title}</h1><p>${steps ? `${t("count.steps", { n: steps })}, ${timeWords(doc.total_s)}` : t("round.nothing")}</p></div></div>
    ${going.length ? html`<section class="sheet walk-going"><h2>${t("walk.under_way")}</h2><ul>${going.map((g) => html`<li><a class="button main" href=${to(["m", name, "round", "walk"], { round: g.round })}>${t("walk.go_on")}</a><span><strong>${g.title}</strong> <span class="says">${t("walk.begun", { by: g.by, at: momentWords(g.at), done: g.done, n: g.order.length })}</span></span></li>`)}</ul></section>` : null}
    ${steps ? html`<section class="sheet walk-before"><h2>${t("round.before")}</h2><p class="says">${doc.first_words}</p>${(doc.before ?? []).map((c) => html`<${Caution} ...${c} />`)}
      <label class="walk-hours"><span>${t("walk.meter")}</span><input type="text" inputmode="decimal" value=${hours} placeholder=${doc.machine.meter_h === null ? "" : number(doc.machine.meter_h, 1)} onInput=${(e) => setHours(e.target.value)} /><span>h</span></label>
      ${hours && meter.wrong ? html`<p class="walk-wait" role="status">${t("walk.wrong.number", { unit: "h" })}</p>` : null}
      ${error ? html`<${Trouble} error=${error} />` : null}
      <p class="walk-begin"><button type="button" class="walk-main" disabled=${busy || Boolean(hours && meter.wrong)} onClick=${start}>${t("walk.start")}</button></p></section>` : null}
    <p class="go"><a class="button" href=${machineAddress(name, "round")}>${t("walk.whole")}</a></p>`;
}

// ---- on the way ----

function Going({ doc, round, core: engine, entries: first, remote: heard, name }) {
  const [entries, setEntries] = useState(first);
  const remote = useRef(heard);
  const [ticks, setTicks] = useState({});
  const [panel, setPanel] = useState(null); // "cannot", "all", "end"
  const [photos, setPhotos] = useState([]);
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState(null);
  const plan = useRef(null);
  const memory = useRef([]); // what was recorded where nothing can be kept
  const machine = doc.machine.serial;
  const stand = useStanding();

  const look = useCallback(async () => {
    const all = await entriesOf(machine, remote.current);
    const known = new Set(all.map((e) => e.id));
    setEntries([...all, ...memory.current.filter((e) => !known.has(e.id))]);
  }, [machine]);
  useEvent("change", look, changes);
  useEvent("witmark:entry", async () => { // the depot was reached: what the other phone has done meanwhile
    const now = await remoteRounds(name);
    remote.current = now.length ? now : remote.current;
    look();
  });
  useEffect(() => { store().then((s) => s?.round(round)).then((kept) => kept && setTicks(kept.ticks ?? {})); }, [round]);

  const acts = actsOf(entries, round);
  plan.current = nextPlan(doc, acts, plan.current, engine);
  const { order, left } = plan.current;
  const started = entries.find((e) => e.kind === "round" && e.body.is === "started" && e.body.round === round);
  const since = started ? entries.filter((e) => e.id >= started.id) : entries;
  const open = openNow(doc, since);
  const ended = entries.some((e) => e.kind === "round" && e.body.is === "ended" && e.body.round === round);
  const current = order[0] ?? null;
  const step = current ? stepOf(doc, current) : null;
  const condition = conditionAfter(doc, acts);

  const keepTicks = async (next) => {
    setTicks(next);
    const s = await store();
    const kept = await s?.round(round);
    await (kept && s.putRound({ ...kept, ticks: next }));
  };

  // Records what belongs together; nothing has happened when it throws.
  const put = async (items, blobs = []) => {
    setBusy(true);
    setError(null);
    try {
      const made = await recordAll(items, blobs);
      memory.current.push(...made.map(({ entry, state }) => ({ ...entry, state: "stands", here: state })));
      await look();
      scrollTo(0, 0);
      return made;
    } catch (e) {
      setError(e);
      return null;
    } finally {
      setBusy(false);
    }
  };

  const done = async ({ entries: items, outcome, reason, blobs = [] }) => {
    const pictures = [...photos, ...blobs];
    const made = await put([...items, ...pictures.map((p) => photoEntry(machine, p)), stepEntry(machine, round, step, outcome, reason)], pictures);
    if (made) {
      setPhotos([]);
      setPanel(null);
      if (ticks[step.key]) {
        const next = { ...ticks };
        delete next[step.key];
        await keepTicks(next);
      }
    }
  };

  const tick = async (i, items) => {
    const made = items.length ? await put(items) : [];
    if (made) {
      await keepTicks({ ...ticks, [step.key]: [...(ticks[step.key] ?? []), made.map((m) => m.entry.id)] });
    }
  };

  // Undo is a correction: what was entered stays readable, withdrawn.
  const last = [...acts].reverse().find((a) => entries.some((e) => e.id === a.id && e.here));
  const withdraw = (ids) => ids.map((id) => ({ machine, kind: "correction", body: { corrects: id, reason: t("walk.undo_reason"), void: true } }));
  const undo = async () => {
    const ticked = step && ticks[step.key];
    if (ticked?.length) {
      if (ticked.at(-1).length === 0 || (await put(withdraw(ticked.at(-1))))) {
        await keepTicks({ ...ticks, [step.key]: ticked.slice(0, -1) });
      }
    } else if (last) {
      plan.current = null;
      await put(withdraw([...last.entries, last.id]));
    }
  };
  const again = async (act) => {
    plan.current = null;
    if (await put(withdraw([act.id]))) {
      setPanel(null);
    }
  };

  const takePhoto = async (event) => {
    const file = event.target.files?.[0];
    event.target.value = "";
    if (file) {
      try {
        const photo = await photoOf(file);
        setPhotos([...photos, photo]);
      } catch {
        setError(Object.assign(new Error(t("walk.no_photo")), { right: "" }));
      }
    }
  };

  const frame = { doc, round, name, acts, order, left, open, stand, entries: since, busy, error, setPanel, condition, put, ended };
  if (ended) {
    return html`<${Ended} ...${frame} />`;
  }
  if (!step || panel === "end") {
    return html`<${End} ...${frame} again=${again} undo=${last ? undo : null} />`;
  }
  if (panel === "all") {
    return html`<${All} ...${frame} again=${again} />`;
  }
  const total = acts.filter((a) => a.outcome !== "not-done").length + order.length;
  const blocked = whyNot(doc, acts, current, condition);
  const then = current.change === undefined ? "" : thenWords(doc, order);
  const near = (doc.adjusters ?? []).filter((a) => a.at >= 0 && a.at === step.at && current.change === undefined);
  const more = html`${near.map((a) => html`<p><a class="button" href=${to(["m", name, "adjust", a.name])}>${t("walk.adjust", { what: a.label })}</a></p>`)}${photos.length ? html`<p class="walk-photos" role="status">${t("walk.photos", { n: photos.length })}</p>` : null}`;
  const props = { doc, step, machine, core: engine, busy, onDone: done, blobs: [], more };
  const shape = current.change !== undefined ? html`<${ChangeStep} key=${`${step.key} ${acts.length}`} ...${props} then=${then} />`
    : step.type === "task" ? html`<${TaskStep} key=${step.key} ...${props} ticks=${ticks[step.key]?.length ?? 0} onAct=${tick} />`
    : step.read ? html`<${MeasureStep} key=${step.key} ...${props} />` : html`<${LookStep} key=${step.key} ...${props} />`;
  return html`<div class=${classes("walk", current.change !== undefined && "change")}>
    <${Rail} doc=${doc} acts=${acts} order=${order} />
    <div class="walk-main-column"><p class="walk-over"><span>${name}</span> <span>${doc.title.length > 26 ? `${doc.title.slice(0, 25)}\u2026` : doc.title}</span> <span>${t("walk.step_of", { n: total - order.length + 1, of: total })}</span>${conditionWords(doc, condition) ? html` <span class="walk-condition">${t("walk.now", { condition: conditionWords(doc, condition) })}</span>` : null}</p>
      ${error ? html`<${Trouble} error=${error} />` : null}
      ${blocked ? html`<div class="walk-body"><h1>${step.label}</h1><${Trouble} error=${Object.assign(new Error(t("walk.blocked")), { right: t("walk.blocked.right") })} /></div>` : shape}
      ${panel === "cannot" ? html`<${Cannot} step=${step} machine=${machine} change=${current.change !== undefined} busy=${busy} onDone=${done} close=${() => setPanel(null)} />` : null}</div>
    <${Bar} stand=${stand} open=${open} onCannot=${() => setPanel("cannot")} onAll=${() => setPanel("all")} onUndo=${last || (step && ticks[step.key]?.length) ? undo : null} onPhoto=${takePhoto} busy=${busy} /></div>`;
}

// "Then: 5 checks, 26 min" until the next change of condition.
function thenWords(doc, order) {
  const until = order.slice(1).findIndex((ref) => ref.change !== undefined);
  const steps = order.slice(1, until < 0 ? undefined : until + 1).map((ref) => stepOf(doc, ref));
  return steps.length ? t("walk.then", { what: steps.slice(0, 4).map((s) => s.label).join(", ") + (steps.length > 4 ? " \u2026" : ""), n: steps.length, time: timeWords(steps.reduce((sum, s) => sum + s.takes_s, 0)) }) : "";
}

/** The whole round at the side: what is done is filled, where we are is large, changes of condition are diamonds. */
function Rail({ doc, acts, order }) {
  const kind = (key) => (key.startsWith("change/") ? "change" : key.startsWith("task/") ? "task" : "check");
  const dots = [...acts.map((a) => ({ kind: kind(a.key), look: happened(a) ? "done" : "left" })), ...order.map((ref, i) => ({ kind: kind(keyOf(doc, ref)), look: i === 0 ? "now" : "to-do" }))];
  return html`<div class="walk-rail" aria-hidden="true">${dots.map((d) => html`<span class=${`knot ${d.kind} ${d.look}`}></span>`)}</div>`;
}

/** Where the entries are, and what can be done besides. */
function Bar({ stand, open, onCannot, onAll, onUndo, onPhoto, busy }) {
  return html`<div class="walk-bar">${open.length ? html`<p class="walk-open"><${Stripe} bare state="phone" /><strong>${t("putback.count", { n: open.length })}</strong> <span>${open.map((o) => o.label).join("; ")}</span></p>` : null}
    <div class="walk-tools"><a class="walk-tool wide" href="#/phone"><${EntriesState} stand=${stand} /></a>
      <button type="button" class="walk-tool" disabled=${busy} onClick=${onCannot}>${t("walk.cannot")}</button>
      <label class="walk-tool"><input class="unseen" type="file" accept="image/*" capture="environment" onChange=${onPhoto} />${t("walk.photo")}</label>
      <button type="button" class="walk-tool" disabled=${!onUndo || busy} onClick=${onUndo}>${t("walk.undo")}</button>
      <button type="button" class="walk-tool" onClick=${onAll}>${t("walk.all")}</button></div></div>`;
}

function Cannot({ step, machine, change, busy, onDone, close }) {
  const [outcome, setOutcome] = useState(null);
  const [reason, setReason] = useState("");
  const choices = change ? ["not-done"] : step.type === "task" ? ["not-done", "not-reached", "not-fitted"] : ["not-reached", "not-fitted", "damaged"];
  const panel = useRef(null);
  useEffect(() => panel.current?.focus(), []);
  const keep = () => (outcome === "damaged"
    ? onDone({ entries: [{ machine, kind: "found", body: { checkpoint: step.name, look: reason.trim() } }], outcome })
    : onDone({ entries: [], outcome, reason: reason.trim() }));
  return html`<section class="walk-panel" role="dialog" aria-modal="false" aria-labelledby="cannot" tabindex="-1" ref=${panel}><h2 id="cannot">${t("walk.cannot_title")}</h2>
    <div class="walk-choices">${choices.map((c) => html`<button type="button" aria-pressed=${outcome === c ? "true" : "false"} onClick=${() => setOutcome(c)}>${t(`walk.outcome.${c}`)}</button>`)}</div>
    <label class="walk-own"><span>${outcome === "damaged" ? t("walk.what_damaged") : t("walk.why")}</span><textarea rows="2" maxlength="2000" value=${reason} onInput=${(e) => setReason(e.target.value)}></textarea></label>
    ${change ? html`<p class="says">${t("walk.change_skipped")}</p>` : null}
    <div class="walk-done two"><button type="button" class="walk-second" onClick=${close}>${t("walk.back")}</button><button type="button" class="walk-main" disabled=${busy || !outcome || !reason.trim()} onClick=${keep}>${t("walk.keep")}</button></div></section>`;
}

const Totals = ({ doc, entries }) => {
  const used = usedIn(doc, entries);
  return used.parts.length + used.fluids.length ? html`<section class="sheet"><h2>${t("walk.used_so_far")}</h2><ul class="walk-list">${used.parts.map((p) => html`<li><strong>${number(p.quantity, p.quantity % 1 ? 1 : 0)} \u00d7</strong> ${p.label} <span class="says">${p.number ?? ""}</span></li>`)}${used.fluids.map((f) => html`<li><strong>${quantity(`${f.value} ${f.unit}`)}</strong> ${f.label}</li>`)}</ul></section>` : null;
};

const labelOf = (doc, key) => [...doc.points, ...doc.changes].find((s) => s.key === key)?.label ?? key;

const ActLine = ({ doc, act, entries, again }) => html`<li class=${classes("walk-line", act.outcome)}><${Stripe} state=${entries.find((e) => e.id === act.id)?.here ?? "depot"} /><span><strong>${labelOf(doc, act.key)}</strong> <span class="says">${t(`walk.outcome.${act.outcome}`)}${act.reason ? `: ${act.reason}` : ""}</span></span>
  ${again && !happened(act) ? html`<button type="button" class="button small" onClick=${() => again(act)}>${t("walk.again")}</button>` : null}</li>`;

const LeftLine = ({ doc, left }) => html`<li class="walk-line"><span class="knot check left" aria-hidden="true"></span><span><strong>${stepOf(doc, left.ref).label}</strong> <span class="says">${left.why === "after" ? t("walk.left_after", { what: doc.points[left.after]?.label ?? "" }) : t("walk.left_needs", { needs: stepOf(doc, left.ref).needs_words })}</span></span></li>`;

function All({ doc, acts, order, left, entries, setPanel, again, round, put, name, stand }) {
  const [who, setWho] = useState("");
  const [handed, setHanded] = useState(false);
  const hand = async () => {
    if (await put([{ machine: doc.machine.serial, kind: "round", body: { round, is: "handed-over", to: who.trim() } }])) {
      setHanded(true);
    }
  };
  return html`<div class="walk-page"><div class="lead"><${Plate} name=${name} /><h1>${doc.title}</h1></div>
    <p class="go"><button type="button" class="walk-main" onClick=${() => setPanel(null)}>${t("walk.back_to_step")}</button></p>
    <${Totals} doc=${doc} entries=${entries} />
    <section class="sheet"><h2>${t("walk.done_so_far", { n: acts.length })}</h2><ol class="walk-list">${acts.map((act) => html`<${ActLine} doc=${doc} act=${act} entries=${entries} again=${again} />`)}</ol></section>
    ${left.length ? html`<section class="sheet"><h2>${t("walk.left")}</h2><ul class="walk-list">${left.map((l) => html`<${LeftLine} doc=${doc} left=${l} />`)}</ul></section>` : null}
    <section class="sheet"><h2>${t("walk.to_do", { n: order.length })}</h2><ol class="walk-list">${order.map((ref) => html`<li class="walk-line"><span class=${`knot ${ref.change === undefined ? stepOf(doc, ref).type : "change"} to-do`} aria-hidden="true"></span><span>${stepOf(doc, ref).label}</span></li>`)}</ol></section>
    ${doc.adjusters?.length ? html`<section class="sheet"><h2>${t("walk.adjusters")}</h2><ul class="walk-list">${doc.adjusters.map((a) => html`<li><a class="button" href=${to(["m", name, "adjust", a.name])}>${a.label}</a></li>`)}</ul></section>` : null}
    <section class="sheet walk-hand"><h2>${t("walk.hand_over")}</h2><p class="says">${t("walk.hand_over.says")}</p>
      ${handed ? html`<p role="status"><strong>${stand?.phone ? t("walk.hand_over.wait", { n: stand.phone }) : t("walk.hand_over.sent")}</strong></p>`
      : html`<label class="walk-own"><span>${t("walk.hand_over.to")}</span><input type="text" maxlength="100" value=${who} onInput=${(e) => setWho(e.target.value)} /></label><p class="go"><button type="button" class="button" disabled=${!who.trim()} onClick=${hand}>${t("walk.hand_over")}</button></p>`}</section>
    <p class="go"><button type="button" class="button" onClick=${() => setPanel("end")}>${t("walk.end_now")}</button></p></div>`;
}

/** The end: nothing is left open, or a reason is signed. */
function End({ doc, acts, order, left, open, entries, round, name, put, busy, error, setPanel, again, undo, stand }) {
  const [reason, setReason] = useState("");
  const [who, setWho] = useState("");
  useEffect(() => { session().then((s) => setWho(s.name ?? ""), () => {}); }, []);
  const undone = [...acts.filter((a) => !happened(a) && a.outcome !== "not-fitted").map((a) => a.key), ...left.map((l) => keyOf(doc, l.ref)), ...order.map((ref) => keyOf(doc, ref))];
  const items = open.map((o) => `open/${o.item}`);
  const needs = undone.length + items.length > 0;
  const machine = doc.machine.serial;
  const back = (item) => put([{ machine, kind: "put-back", body: { what: item } }]);
  const sign = () => {
    const names = [...new Set([...undone, ...items])];
    return put([{ machine, kind: "round", body: { round, is: "ended", title: doc.title, left: names.length ? names : undefined, reason: reason.trim() || undefined } }]);
  };
  return html`<div class="walk-page"><div class="lead"><${Plate} name=${name} /><h1>${t("walk.end_title")}</h1></div>
    ${error ? html`<${Trouble} error=${error} />` : null}
    <section class=${classes("sheet", "walk-put-back", open.length && "open")}><h2>${open.length ? t("putback.count", { n: open.length }) : t("round.nothing_open")}</h2>
      ${open.length ? html`<ul class="walk-list">${open.map((o) => html`<li class="walk-line"><${Stripe} bare state="phone" /><span><strong>${o.label}</strong> <span class="says">${o.by ?? ""}</span></span><button type="button" class="button small" disabled=${busy} onClick=${() => back(o.item)}>${t("putback.back")}<span class="unseen"> ${o.label}</span></button></li>`)}</ul>` : null}</section>
    ${left.length || acts.some((a) => !happened(a)) ? html`<section class="sheet"><h2>${t("walk.left")}</h2><ul class="walk-list">${acts.filter((a) => !happened(a)).map((act) => html`<${ActLine} doc=${doc} act=${act} entries=${entries} again=${again} />`)}${left.map((l) => html`<${LeftLine} doc=${doc} left=${l} />`)}</ul></section>` : null}
    ${order.length ? html`<section class="sheet"><h2>${t("walk.to_do", { n: order.length })}</h2><ol class="walk-list">${order.map((ref) => html`<li class="walk-line"><span class=${`knot ${ref.change === undefined ? stepOf(doc, ref).type : "change"} to-do`} aria-hidden="true"></span><span>${stepOf(doc, ref).label}</span></li>`)}</ol></section>` : null}
    <${Totals} doc=${doc} entries=${entries} />
    <section class="sheet walk-sign"><h2>${t("walk.sign")}</h2>
      ${needs ? html`<label class="walk-own"><span>${t("walk.sign.reason")}</span><textarea rows="3" maxlength="2000" value=${reason} onInput=${(e) => setReason(e.target.value)}></textarea></label>` : null}
      <p class="says">${t("walk.sign.says", { who, n: acts.filter(happened).length })}</p>
      <div class="walk-done two">${order.length ? html`<button type="button" class="walk-second" onClick=${() => setPanel(null)}>${t("walk.back_to_step")}</button>` : html`<button type="button" class="walk-second" disabled=${!undo || busy} onClick=${undo}>${t("walk.undo")}</button>`}
        <button type="button" class="walk-main" disabled=${busy || (needs && !reason.trim())} onClick=${sign}>${t("walk.sign.as", { who })}</button>${needs && !reason.trim() ? html`<p class="walk-wait" role="status">${t("walk.sign.first")}</p>` : null}</div></section>
    <p class="walk-where-is"><${EntriesState} stand=${stand} /></p></div>`;
}

function Ended({ doc, acts, entries, name, stand }) {
  return html`<div class="walk-page"><div class="lead"><${Plate} name=${name} large link /><h1>${t("walk.ended")}</h1></div>
    <p class="walk-where-is"><${EntriesState} stand=${stand} /></p>
    <section class="sheet"><h2>${t("walk.done_so_far", { n: acts.length })}</h2><ol class="walk-list">${acts.map((act) => html`<${ActLine} doc=${doc} act=${act} entries=${entries} />`)}</ol></section><${Totals} doc=${doc} entries=${entries} />
    <p class="go"><a class="button main" href=${machineAddress(name)}>${t("machine.named", { name })}</a></p></div>`;
}
