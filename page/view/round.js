// The round of one machine: what it covers, what to bring, each step in order. A change of the machine's condition is inverted,
// so that it can't be mistaken for a check; the caution stands before what it guards.
import { address, ask } from "../lib/api.js";
import { aside, element } from "../lib/element.js";
import { count, proofWords, timeWords } from "../lib/words.js";
import { cautions } from "../part/caution.js";
import { drawing } from "../part/drawing.js";
import { gauge } from "../part/gauge.js";
import { machineAddress, plate } from "../part/plate.js";
import { opensAndCloses, putBackBar } from "../part/putback.js";

function chooser(m, asked) {
  const to = (parameters) => `${machineAddress(m.name, "round")}?${new URLSearchParams(parameters)}`;
  const chip = (label, parameters) =>
    element("a", { class: "chip", href: to(parameters), "aria-current": asked.scope === parameters.scope ? "true" : null }, label);
  const field = element("input", { type: "number", id: "within", name: "within", min: "1", max: "5000", step: "1", inputmode: "numeric", value: asked.within || "50" });
  const form = element("form", { class: asked.scope === "within" ? "chip chosen" : "chip" },
    element("label", { for: "within" }, "within"), field, element("span", {}, "h"), element("button", { type: "submit" }, "Show"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    location.hash = to({ scope: "within", within: field.value });
  });
  return element("nav", { class: "scope", "aria-label": "What the round covers" },
    chip("Due now", { scope: "due" }), chip("Daily", { scope: "daily" }), form,
    (m.card.services ?? []).filter((s) => s.name !== "daily").map((s) => chip(s.label, { scope: s.name })));
}

function where(r, shown, before) {
  const figure = shown && r.figures.find((f) => f.name === shown.name);
  if (!figure || (before && before.name === shown.name && before.mark === shown.mark)) {
    return null;
  }
  const mark = figure.marks.find((k) => k.number === shown.mark);
  const words = mark ? `${figure.title}, ${mark.number}: ${mark.label}` : figure.title;
  const wide = matchMedia("(min-width: 60rem)").matches || matchMedia("print").matches;
  return element("details", { class: "where", open: wide },
    element("summary", {}, "Where ", mark ? element("span", { class: "mark out", "aria-hidden": "true" }, String(mark.number)) : null, element("span", {}, mark ? mark.label : figure.title)),
    drawing(r.machine.label, figure, mark ? [{ ...mark, look: "out" }] : [], words),
    element("p", { class: "says" }, figure.title));
}

function reading(read) {
  if (!read) {
    return null;
  }
  const also = (read.also ?? []).map((a) => [a.name, a.unit].filter(Boolean).join(", ")).join("; ");
  return element("div", { class: "reading" },
    element("p", { class: "limits" }, element("span", {}, read.measure), " ", element("strong", {}, read.limits)),
    gauge(read),
    element("p", { class: "says" }, [read.want ? `aim for ${read.want}` : "", read.refer_to ? `judged ${read.refer_to}` : "", also ? `read also ${also}` : "",
      read.last ? `last ${read.last}` : ""].filter(Boolean).join("; ")));
}

const list = (title, items) => (items?.length ? element("p", { class: "needs" }, element("span", {}, `${title} `), items.join(", ")) : null);

function taskStep(r, s, before) {
  return element("li", {}, cautions(s.cautions),
    element("p", { class: "act" }, s.act, s.place ? element("span", { class: "says" }, ` ${s.place}`) : null),
    list("Torque", s.torques), list("Tools", s.tools), list("Take back", s.waste ? [s.waste] : []), opensAndCloses(s), where(r, s.figure, before));
}

/** The steps of a task; a drawing is not shown twice in a row. */
function taskSteps(r, step) {
  let before = step.figure;
  return element("ol", { class: "acts" }, (step.steps ?? []).map((s) => {
    const item = taskStep(r, s, before);
    before = s.figure ?? before;
    return item;
  }));
}

function knot(type) {
  return element("span", { class: `knot ${type}`, "aria-hidden": "true" });
}

const TYPES = { change: "Change of condition", check: "Check", task: "Task" };

function stepOf(r, step, before, part) {
  const title = step.type === "change" ? step.act : step.label;
  return element("li", { class: `step ${step.type}`, value: String(step.n) }, knot(step.type),
    element("div", { class: "body" },
      element("p", { class: "over" }, element("span", {}, `${step.n} ${TYPES[step.type]}`), element("span", {}, [step.place, timeWords(step.takes_s)].filter(Boolean).join(" · "))),
      cautions(step.cautions),
      element("h3", {}, title),
      step.why ? element("p", { class: "says" }, step.why) : null,
      step.look?.length ? element("p", { class: "look" }, aside("Look for "), step.look.join(" · ")) : null,
      reading(step.read),
      list("Parts", step.parts), list("Fluids", step.fluids), list("Tools", step.tools),
      step.type === "task" ? taskSteps(r, step) : null,
      opensAndCloses(step)),
    where(r, step.figure, before, part));
}

function steps(r) {
  let before = null;
  return element("ol", { class: "steps" }, r.steps.map((step) => {
    const item = stepOf(r, step, before);
    before = step.figure ?? before;
    return item;
  }));
}

function kitLines(title, rows) {
  return rows?.length ? element("div", {}, element("h3", {}, title), element("ul", {}, rows.map((row) => element("li", {}, row)))) : null;
}

function kit(k) {
  const parts = k.parts.map((p) => [element("strong", {}, p.quantity), ` ${p.label} `, element("span", { class: "says" }, [p.number, p.instead_of ? `instead of ${p.instead_of}` : ""].filter(Boolean).join(", "))]);
  const fluids = k.fluids.map((f) => [element("strong", {}, f.quantity), ` ${f.label} `, element("span", { class: "says" }, f.is)]);
  const torques = k.torques.map((t) => [element("strong", {}, t.torque), ` ${t.label} `, element("span", { class: "says" }, t.note ?? "")]);
  return element("details", { class: "sheet kit" },
    element("summary", {}, element("h2", {}, "Bring"), " ", element("span", { class: "says" }, [count(parts.length, "part"), count(fluids.length, "fluid"), count(k.tools.length, "tool")].join(", "))),
    element("div", { class: "kit-lists" }, kitLines("Wear", k.equipment), kitLines("Parts", parts), kitLines("Fluids", fluids),
      kitLines("Tools", k.tools), kitLines("Torques", torques), kitLines("Take back", k.waste)));
}

function putBack(r) {
  return r.put_back.length
    ? element("section", { class: "sheet put-back", "aria-labelledby": "put-back-title" },
      element("h2", { id: "put-back-title" }, "Nothing is left open"),
      element("ul", {}, r.put_back.map((p) => element("li", {}, element("strong", {}, p.label), " ",
        element("span", { class: "says" }, p.closed_at ? `opened at step ${p.opened_at}, put back at step ${p.closed_at}` : `opened at step ${p.opened_at}, left open`)))))
    : null;
}

export async function round(name, parameters) {
  const asked = { scope: parameters.get("scope") || "due", within: parameters.get("within"), minutes: parameters.get("minutes") };
  const m = await ask(["machines", name]);
  const query = { scope: asked.scope, within: asked.scope === "within" ? asked.within || "50" : null, minutes: asked.minutes };
  const head = element("div", { class: "lead round-head" }, element("a", { href: machineAddress(m.name), "aria-label": `Machine ${m.name}` }, plate(m.name, true)));
  const answer = await ask(["machines", name, "round"], query).then((r) => ({ r }), (error) => ({ error }));
  if (answer.error) {
    head.append(element("h1", {}, "Round"));
    return { title: `Round ${m.name}`, body: [head, chooser(m, asked)], error: answer.error };
  }
  const r = answer.r;
  head.append(element("div", {}, element("h1", {}, r.title),
    element("p", {}, r.steps.length ? `${count(r.steps.length, "step")}, ${timeWords(r.total_s)}, of it ${timeWords(r.moves_s)} walking and changing its condition: ${proofWords(r)}` : "Nothing to do.")));
  return {
    title: `Round ${m.name}`,
    depot: r.depot,
    body: [
      head, chooser(m, asked),
      r.steps.length ? [
        element("p", { class: "go" }, element("a", { class: "button main", href: address(["machines", m.name, "sheet.pdf"], query) }, "Sheet (PDF)")),
        element("p", { class: "first-words" }, r.first_words),
        element("section", { class: "before", "aria-label": "Before you begin" }, cautions(r.before)),
        kit(r.kit), element("section", { "aria-label": "Steps" }, element("h2", { class: "unseen" }, "Steps"), steps(r)), putBack(r)] : null,
      putBackBar(r.open_now),
    ],
  };
}
