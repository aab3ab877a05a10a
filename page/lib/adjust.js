// Counted adjustments and recoveries on a phone: what the depot's answer says, with what this phone has recorded since, as questions
// to the core (src/core/wasm/flat_adjust.h). Pure.

export const TURN = 720; // counts in a turn

const SIGNS = { 90: "⅛", 180: "¼", 240: "⅓", 270: "⅜", 360: "½", 450: "⅝", 480: "⅔", 540: "¾", 630: "⅞" };

/** "1½" of 1080 counts; the sign is left to the words around it. */
export function turnsFigure(count) {
  const size = Math.abs(count);
  const rest = size % TURN;
  if (rest && !SIGNS[rest]) {
    return String(Math.round((size / TURN) * 1000) / 1000);
  }
  return `${size >= TURN || !rest ? Math.floor(size / TURN) : ""}${rest ? SIGNS[rest] : ""}`;
}

/** Entries of this phone that the depot's answer does not have yet, oldest first. known: ids in the answer. */
export function newHere(entries, known) {
  const ids = new Set(known.flatMap((id) => [id, `page:${id}`]));
  return entries.filter((e) => !ids.has(e.id) && e.here !== "refused").sort((a, b) => (a.id < b.id ? -1 : 1));
}

/** All turns of an adjuster: [{count, saw, accepted, found, at, by, here}], those of the depot first. here: only on this phone. */
export function allTurns(adjuster, entries) {
  const depot = adjuster.turns.map((x) => ({ count: x.turn.count, saw: x.saw, accepted: x.accepted, found: x.found, at: x.at, by: x.by, note: x.note, here: false }));
  const mine = newHere(entries.filter((e) => e.kind === "turn" && e.body.adjuster === adjuster.name), adjuster.turns.map((x) => x.entry));
  return [...depot, ...mine.map((e) => ({ count: Math.round(e.body.turns * TURN), saw: e.body.saw ?? "not said", accepted: e.body.accepted ?? false, found: e.body.found ?? false, at: e.at, by: e.by, note: e.body.note ?? "", here: true }))];
}

/** The question about an adjuster; ask: counts of a step, missing: what is not confirmed. */
export function adjustQuestion(adjuster, turns, { ask, missing } = {}) {
  const r = adjuster.rules;
  return {
    way: r.way, "first-step": r.first_step.count, step: r.step.count, "at-most": r.at_most.count, prior: r.prior,
    turn: turns.map((x) => `${x.count} ${x.saw === "not said" ? "-" : x.saw}${x.accepted ? " accepted" : ""}${x.found ? " found" : ""}`),
    ...(ask === undefined ? {} : { ask }), ...(missing ? { missing } : {}), ...(adjuster.other_open ? { other: adjuster.other_open } : {}),
  };
}

/** The body of a turn: counts as a number of turns, exact for every fraction of people. */
export function turnBody(adjuster, count, { saw, confirmed, accepted, note } = {}) {
  return { adjuster, turns: count / TURN, ...(saw ? { saw } : {}), ...(confirmed?.length ? { confirmed } : {}), ...(accepted ? { accepted: true } : {}), ...(note ? { note } : {}) };
}

/** Where a count stands on the dial, in degrees from the top, clockwise for in: 150 at the limit, a little further beyond it. */
export const dialAngle = (count, most) => Math.max(-165, Math.min(165, (count / most) * 150));

/** A point of the dial's ring. */
export function dialPoint(degrees, radius) {
  const a = ((degrees - 90) * Math.PI) / 180;
  return [100 + radius * Math.cos(a), 100 + radius * Math.sin(a)].map((x) => Math.round(x * 100) / 100);
}

/** An arc from one place of the dial to another, as a path. */
export function dialArc(from, to, radius) {
  const [x0, y0] = dialPoint(from, radius);
  const [x1, y1] = dialPoint(to, radius);
  return `M${x0} ${y0}A${radius} ${radius} 0 ${Math.abs(to - from) > 180 ? 1 : 0} ${to > from ? 1 : 0} ${x1} ${y1}`;
}

// ---- recovery ----

const measure = (q) => {
  const si = { m: 1, km: 1000, ft: 0.3048, s: 1, min: 60, h: 3600, "%": 0.01, kg: 1 };
  return q && si[q.unit] !== undefined ? q.value * si[q.unit] : null;
};

/** The line of an entry for the core, or null when it is about something else. */
export function recoverLine(entry, items) {
  if (entry.kind === "moved") {
    return `moved=${[measure(entry.body.distance) ?? 0, measure(entry.body.time) ?? "?", measure(entry.body.slope) ?? "?", measure(entry.body.load) ?? "?"].join(" ")}`;
  }
  const item = items[entry.body?.what];
  const word = { opened: "opened", "put-back": "closed" }[entry.kind];
  return word && item !== undefined ? `${word}=${item}` : null;
}

/** Lines of the question about a recovery: the depot's events, then this phone's; plan: metres, m/s, slope, kilograms. */
export function recoverQuestion(answer, entries, plan = []) {
  const mine = newHere(entries, answer.events.map((e) => e.entry)).map((e) => recoverLine(e, answer.items)).filter(Boolean);
  const wanted = [0, 1, 2, 3].map((i) => (Number.isFinite(plan[i]) ? plan[i] : "?"));
  return [...answer.question.split("\n"), ...answer.events.map((e) => e.line), ...mine, `plan=${wanted.join(" ")}`];
}

/** Entries of a step that are still to be made, given what is open: [{kind, what}]. */
export const stepEntries = (step, openNow) => step.entries.filter((e) => (e.kind === "opened") !== openNow.has(e.what)).map(({ kind, what }) => ({ kind, what }));

/** What is open on a machine: the depot's list with what this phone has opened, put back, turned and released since. list:
 *  answers of put-back; known: ids of entries that the depot has. Turns are left to the ledger. */
export function openItems(list, entries, sent) {
  const open = new Map(list.map((o) => [o.item, { ...o, here: false }]));
  for (const e of entries.filter((one) => !sent.has(one.id) && one.here === "phone").sort((a, b) => (a.id < b.id ? -1 : 1))) {
    if (e.kind === "opened") {
      open.set(e.body.what, { kind: "opened", item: e.body.what, label: e.body.what, since: e.at, since_local: e.at, by: e.by, close: "", here: true });
    } else if (e.kind === "put-back") {
      open.delete(e.body.what);
    } else if (e.kind === "burn" && e.body.type === "released") {
      open.delete("burning-inhibited");
    }
  }
  return [...open.values()];
}
