// Tracing on the phone: the depot's model of a symptom, what was noted here and has not come back yet, and the same core that
// the depot asks. Pure but for the last part, which keeps what was noted.

/** Lines of evidence after what was noted here: each name once, the latest holds. evidence: lines of the depot ("saw=NAME").
 *  noted: [{step, what, result}]; items: by name (whether it is a cure). */
export function evidenceAfter(evidence, noted, items) {
  let lines = evidence.split("\n").filter(Boolean);
  for (const one of noted) {
    const word = wordOf(one, items[one.what]?.sort === "cure");
    if (!one.what || !word) {
      continue;
    }
    lines = lines.filter((line) => line.slice(line.indexOf("=") + 1) !== one.what);
    lines.push(`${word}=${one.what}`);
  }
  return lines.join("\n");
}

function wordOf({ step, result }, cure) {
  if (step === "cannot") {
    return "cannot";
  }
  if (cure) {
    return step === "done" ? (result === "cured" ? "cured" : "tried") : "";
  }
  const yes = step === "seen" || result === "yes";
  return yes || step === "not-seen" || result === "no" ? (yes ? "saw" : "not") : "";
}

/** What stands of each name: {name: "yes" | "no" | "cannot"}. */
export function statesOf(evidence) {
  const words = { saw: "yes", not: "no", cured: "yes", tried: "no", cannot: "cannot" };
  return Object.fromEntries(evidence.split("\n").filter(Boolean).map((line) => {
    const at = line.indexOf("=");
    return [line.slice(at + 1), words[line.slice(0, at)]];
  }));
}

/** The question for core.trace. */
export const questionOf = (symptom, noted, items) => `${symptom.question}${evidenceAfter(symptom.evidence, noted, items)}\n`;

/** Ways to say each symptom, for core.find: [[name, words]]. */
export const phrasesOf = (symptoms) => symptoms.flatMap((s) => [s.label, s.symptom.replaceAll("-", " "), ...s.says].map((words) => [s.symptom, words]));

/** Signs that can be ticked: symptoms and clues not told yet, those that speak most for or against the likely causes first.
 *  chances: of the question's lines. */
export function ticksOf(symptom, items, states, causes) {
  const p = Object.fromEntries(causes.map((c) => [c.name, c.p]));
  const chance = {};
  const senseless = new Set(); // what makes no sense to look for with this symptom
  for (const line of symptom.question.split("\n")) {
    const sign = /^sign=\S+ - (.+)$/.exec(line);
    if (sign) {
      senseless.add(sign[1]);
    }
    const found = /^chance=(\S+) (\S+) (.+)$/.exec(line);
    if (found) {
      (chance[found[2]] ??= {})[found[3]] = Number(found[1]);
    }
  }
  const spread = (name) => {
    const all = causes.map((c) => [p[c.name], chance[name]?.[c.name] ?? 0]);
    const mean = all.reduce((sum, [w, x]) => sum + w * x, 0);
    return all.reduce((sum, [w, x]) => sum + w * (x - mean) ** 2, 0);
  };
  return symptom.items.map((name) => items[name]).filter((item) => item?.sort === "symptom" && !states[item.name] && !senseless.has(item.name))
    .map((item) => [spread(item.name), item]).sort((a, b) => b[0] - a[0]).map(([, item]) => item);
}

// ---- what was noted here and has not come back with the depot's answer ----

const KEY = "witmark.traces";

function all() {
  try {
    return JSON.parse(localStorage.getItem(KEY) ?? "[]");
  } catch {
    return [];
  }
}

/** Keeps one: {machine, symptom, trace, entry, step, what, result}. */
export function keepNoted(one) {
  try {
    localStorage.setItem(KEY, JSON.stringify([...all(), one].slice(-200)));
  } catch {
    // a full or forbidden store: the depot has it, or the queue of entries
  }
}

/** Those of this trace that the depot's answer does not hold yet; what it holds is let go. */
export function notedHere(machine, symptom) {
  const known = new Set(symptom.events.map((e) => e.entry));
  const list = all();
  const left = list.filter((one) => !(one.machine === machine && known.has(one.entry)));
  if (left.length !== list.length) {
    try {
      localStorage.setItem(KEY, JSON.stringify(left));
    } catch {
      // as above
    }
  }
  const mine = left.filter((one) => one.machine === machine && one.symptom === symptom.symptom);
  const ended = mine.map((one) => one.step).lastIndexOf("ended");
  return mine.slice(ended + 1);
}
