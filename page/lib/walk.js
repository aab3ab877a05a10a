// A round under way, from its document (GET /api/machines/{m}/round/work) and what has been done so far. Pure. A step is a
// reference, {point: i} or {change: i}, into the document; what was done is a list of acts {key, outcome, id?, entries?, by?}
// in the order it happened, read from the log. The rest is ordered by the core (core.round), which replays the book's rules.

/** The step behind a reference. */
export const stepOf = (doc, ref) => (ref.change === undefined ? doc.points[ref.point] : doc.changes[ref.change]);
export const keyOf = (doc, ref) => stepOf(doc, ref).key;
const same = (a, b) => a.change === b.change && a.point === b.point;

/** The reference with that key, or null. */
export function refOf(doc, key) {
  const point = doc.points.findIndex((p) => p.key === key);
  const change = doc.changes.findIndex((c) => c.key === key);
  return point >= 0 ? { point } : change >= 0 ? { change } : null;
}

/** Did it happen? A check that found damage did; what could not be reached did not. */
export const happened = (act) => act.outcome === "done" || act.outcome === "damaged";

/** Acts of this round from entries of the log, {id, kind, body, state?} in order of time; corrections and what they withdraw are
 *  left out. */
export function actsOf(entries, round) {
  const withdrawn = new Set(entries.filter((e) => e.kind === "correction" && e.body.void).map((e) => e.body.corrects));
  return entries
    .filter((e) => e.kind === "round" && e.body.round === round && e.body.is === "step" && !withdrawn.has(e.id) && (e.state ?? "stands") !== "withdrawn")
    .map((e) => ({ key: e.body.step, outcome: e.body.outcome, reason: e.body.reason, id: e.id, entries: e.body.entries ?? [], by: e.by }));
}

/** The condition of the machine: a value for each variable. */
export function conditionAfter(doc, acts) {
  const now = [...doc.rules.start];
  for (const act of acts.filter(happened)) {
    const ref = refOf(doc, act.key);
    for (const [variable, value] of ref ? stepOf(doc, ref).sets : []) {
      now[variable] = value;
    }
  }
  return now;
}

const holds = (masks, condition) => masks.every((mask, v) => mask === 0 || (mask >> condition[v]) & 1);

/** Why a step cannot be done in this condition: "" when it can, "needs", "never" or "after". The core says the same of each; here
 *  it is asked once more for the very step that is shown. */
export function whyNot(doc, acts, ref, condition = conditionAfter(doc, acts)) {
  const step = stepOf(doc, ref);
  if (!holds(ref.change === undefined ? step.needs : step.from, condition)) {
    return "needs";
  }
  const then = [...condition];
  for (const [variable, value] of step.sets) {
    then[variable] = value;
  }
  if (doc.rules.never.some((never) => holds(never.when, then))) {
    return "never";
  }
  const done = new Set(acts.filter(happened).map((a) => a.key));
  return (step.after ?? []).some((i) => !done.has(doc.points[i].key)) ? "after" : "";
}

/** "engine off, body propped" */
export function conditionWords(doc, condition) {
  const words = doc.rules.variables.map((v, i) => (v.label && condition[i] !== 0 ? `${v.label.toLowerCase()} ${v.values[condition[i]].replaceAll("-", " ")}` : "")).filter(Boolean);
  return words.join(", ");
}

/** "engine=off" ... as a round that starts notes it, and back. */
export const conditionNames = (doc, condition) => doc.rules.variables.map((v, i) => `${v.name}=${v.values[condition[i]]}`);

/** The document with the condition in which the round began, as its first entry noted it. */
export function startedIn(doc, names) {
  const start = doc.rules.variables.map((v, i) => {
    const given = names.find((n) => n.startsWith(`${v.name}=`));
    const value = given ? v.values.indexOf(given.slice(v.name.length + 1)) : -1;
    return value >= 0 ? value : doc.rules.start[i];
  });
  return { ...doc, rules: { ...doc.rules, start } };
}

// ---- the rest ----

/** Where one stands after the last act. */
export function placeAfter(doc, acts) {
  let at = doc.rules.at;
  for (const act of acts) {
    const ref = refOf(doc, act.key);
    at = ref && stepOf(doc, ref).at >= 0 ? stepOf(doc, ref).at : at;
  }
  return at;
}

/** The question of src/core/wasm/flat_round.h. */
export function question(doc, acts) {
  const r = doc.rules;
  const sets = (list) => list.map(([v, x]) => `${v}:${x}`).join(" ");
  const named = (act) => {
    const ref = refOf(doc, act.key);
    return ref ? (ref.change === undefined ? `p${ref.point}` : `c${ref.change}`) : null;
  };
  const last = new Map(acts.map((act) => [act.key, act])); // what could not be done may have been done later
  return [
    `variables=${r.variables.map((v) => v.values.length).join(" ")}`,
    `start=${r.start.join(" ")}`,
    `finish=${r.finish.join(" ")}`,
    `home=${r.home}`,
    `at=${placeAfter(doc, acts)}`,
    ...r.places.map(([x, y]) => `place=${x} ${y}`),
    ...r.never.map((n) => `never=${n.when.join(" ")}`),
    ...doc.changes.map((c) => `change=${c.at} ${c.takes_s} | ${c.from.join(" ")} | ${sets(c.sets)}`),
    ...doc.points.map((p) => `point=${p.at} ${p.takes_s} | ${p.needs.join(" ")} | ${sets(p.sets)} | ${p.after.join(" ")}`),
    `did=${acts.filter(happened).map(named).filter(Boolean).join(" ")}`,
    `not=${[...last.values()].filter((act) => !happened(act)).map(named).filter(Boolean).join(" ")}`,
  ];
}

const comesAfter = (doc, point, order) => order.some((r) => r.point !== undefined && doc.points[r.point].after.includes(point));

// The order after an act that went as planned, or that nobody waits for; null when the rest has to be thought over.
function shorter(doc, order, act) {
  const ref = refOf(doc, act.key);
  const at = ref ? order.findIndex((r) => same(r, ref)) : -1;
  if (happened(act)) {
    return at === 0 ? order.slice(1) : null;
  }
  const alone = at >= 0 && ref.point !== undefined && !stepOf(doc, ref).sets.length && !comesAfter(doc, ref.point, order);
  return alone ? order.filter((_, i) => i !== at) : null;
}

const mayGoOn = (doc, acts, order) => order && (!order.length || whyNot(doc, acts, order[0]) === "");

// The core's answer; null when it has none, such as for a condition that should not exist.
function asked(core, lines) {
  try {
    return core.round(lines);
  } catch {
    return null;
  }
}

/** What comes next: {order: [refs], left: [{ref, why, after?}], home}. The document's order is kept as long as everything went as
 *  it says; otherwise the core orders the rest anew. Without a core (null) what the present condition allows is offered. */
export function restOf(doc, acts, core) {
  const order = acts.reduce((rest, act) => rest && shorter(doc, rest, act), doc.order);
  if (mayGoOn(doc, acts, order)) {
    return { order, left: [], home: true };
  }
  if (core) {
    const rest = asked(core, question(doc, acts));
    if (rest && !rest.note) {
      return { order: rest.plan, left: rest.left.map((l) => ({ ref: { point: l.point }, why: l.why, after: l.after })), home: rest.home };
    }
  }
  const settled = new Set(acts.map((a) => a.key));
  const open = doc.order.filter((r) => r.point !== undefined && !settled.has(keyOf(doc, r)));
  return { order: open.filter((r) => whyNot(doc, acts, r) === ""), left: open.filter((r) => whyNot(doc, acts, r) !== "").map((ref) => ({ ref, why: "needs" })), home: false };
}

/** The plan after the acts, from the one before them: as long as each step goes as planned it only gets shorter. A plan is what
 *  restOf gives, and `acts`: how many it knows of. */
export function nextPlan(doc, acts, plan, core) {
  if (plan?.acts === acts.length) {
    return plan;
  }
  const order = plan?.acts === acts.length - 1 ? shorter(doc, plan.order, acts.at(-1)) : null;
  return mayGoOn(doc, acts, order) ? { ...plan, order, acts: acts.length } : { ...restOf(doc, acts, core), acts: acts.length };
}

// ---- what is open, what was used ----

/** Things that are open now: those of the document, then what was opened and put back in `entries` (of this machine, in order). */
export function openNow(doc, entries) {
  const withdrawn = new Set(entries.filter((e) => e.kind === "correction" && e.body.void).map((e) => e.body.corrects));
  const open = new Map(doc.open.map((o) => [o.item, { ...o, here: false }]));
  for (const e of entries) {
    if (withdrawn.has(e.id)) {
      continue;
    }
    if (e.kind === "opened") {
      open.set(e.body.what, { item: e.body.what, label: labelOf(doc, e.body.what), by: e.by, since: e.at, here: true });
    } else if (e.kind === "put-back") {
      open.delete(e.body.what);
    }
  }
  return [...open.values()];
}

function labelOf(doc, item) {
  const all = [...doc.changes, ...doc.points.flatMap((p) => p.acts ?? [])].flatMap((s) => [...(s.opens ?? []), ...(s.closes ?? [])]);
  return all.find((i) => i.item === item)?.label ?? item;
}

/** Parts and fluids used in these entries: {parts: [{part, number, label, quantity}], fluids: [{fluid, label, value, unit}]}. */
export function usedIn(doc, entries) {
  const withdrawn = new Set(entries.filter((e) => e.kind === "correction" && e.body.void).map((e) => e.body.corrects));
  const parts = new Map();
  const fluids = new Map();
  const labels = new Map(doc.points.flatMap((p) => [...(p.parts ?? []).map((x) => [x.part, x.label]), ...(p.fluids ?? []).map((x) => [x.fluid, x.label])]));
  for (const e of entries.filter((x) => x.kind === "done" && !withdrawn.has(x.id))) {
    for (const p of e.body.parts ?? []) {
      const before = parts.get(p.part)?.quantity ?? 0;
      parts.set(p.part, { ...p, label: labels.get(p.part) ?? p.part, quantity: before + p.quantity });
    }
    for (const f of e.body.fluids ?? []) {
      const name = `${f.fluid} ${f.unit}`;
      fluids.set(name, { ...f, label: labels.get(f.fluid) ?? f.fluid, value: (fluids.get(name)?.value ?? 0) + f.value });
    }
  }
  return { parts: [...parts.values()], fluids: [...fluids.values()] };
}

// ---- readings ----

/** A number as a thumb types it: {value} or {wrong: "empty" | "number" | "size"}. A comma is a point. */
export function typed(text) {
  const s = text.trim().replace(",", ".");
  if (s === "" || s === "-" || s === ".") {
    return { wrong: "empty" };
  }
  if (!/^-?(\d+\.?\d*|\.\d+)$/.test(s)) {
    return { wrong: "number" };
  }
  const value = Number(s);
  return Math.abs(value) < 1e7 ? { value } : { wrong: "size" };
}

/** The verdict of the core on a reading of that check; null without a core or a question. `together`: {name: number}. Throws what
 *  the core refuses, with what and right. */
export function verdictOf(core, step, value, together) {
  if (!core || !step.judge) {
    return null;
  }
  const lines = [`value=${value} ${step.unit}`.trim(), step.judge.trim()];
  for (const { name, unit } of step.with ?? []) {
    if (Number.isFinite(together[name])) {
      lines.push(`with ${name}=${together[name]} ${unit}`.trim());
    }
  }
  const answer = JSON.parse(core.ask("judge", lines.join("\n")));
  if (answer.error) {
    throw Object.assign(new Error(answer.error.what), answer.error);
  }
  return answer;
}

// ---- entries ----

/** The entry that tells what became of a step; `before` are the entries recorded with it. */
export function stepEntry(machine, round, step, outcome, reason) {
  return { machine, kind: "round", body: (before) => ({ round, is: "step", step: step.key, outcome, entries: before.length ? before.map((e) => e.id) : undefined, reason: reason || undefined }) };
}

/** opened and put-back entries of a change or of an act of a task. */
export function openEntries(machine, step) {
  return [...(step.opens ?? []).map((i) => ({ machine, kind: "opened", body: { what: i.item } })), ...(step.closes ?? []).map((i) => ({ machine, kind: "put-back", body: { what: i.item } }))];
}

/** Names of checks and tasks of an order's keys, to ask for the same round again. */
export function scopeOf(order) {
  return [...new Set(order.filter((key) => !key.startsWith("change/")).map((key) => key.split("/")[1]))].join(",");
}
