// One machine: its plate, the plan view, what runs out next, what applies to its serial number, the last entries.
import { address, ask } from "../lib/api.js";
import { element } from "../lib/element.js";
import { dayNumber, dayWords, hours } from "../lib/words.js";
import { drawing, placeOn } from "../part/drawing.js";
import { dueLines } from "../part/due.js";
import { machineAddress } from "../part/plate.js";
import { putBackBar } from "../part/putback.js";

const SPAN = 90; // days that a strip shows
const ENTRIES = 12;

function dataPlate(m) {
  const fields = [
    ["Serial", m.serial],
    ["Hours", m.meter.today_h === null ? "not read yet" : `${hours(m.meter.today_h)} by now; read ${hours(m.meter.read_h)} on ${dayWords(m.meter.read_at_local)}`],
    ["Site", m.site],
    ["Fitted", m.options.join(", ")],
    ["In service", dayWords(m.in_service)],
    ["Duty", m.severe ? "severe: the shorter intervals apply" : ""],
    ["Book", m.book.edition ? `${m.book.title}, edition ${m.book.edition}` : m.trouble],
  ].filter(([, value]) => value);
  return element("section", { class: "data-plate", "aria-label": "Plate" },
    element("div", { class: "name" }, element("p", { class: "number" }, m.name), element("h1", {}, m.book.title || m.book.id)),
    element("dl", {}, fields.map(([name, value]) => element("div", {}, element("dt", {}, name), element("dd", {}, value)))));
}

function doors(m) {
  return element("p", { class: "go" },
    element("a", { class: "button main", href: machineAddress(m.name, "round") }, "Round"),
    element("a", { class: "button", href: address(["machines", m.name, "sheet.pdf"]) }, "Sheet (PDF)"),
    element("a", { class: "button", href: address(["machines", m.name, "label.pdf"]) }, "Label (PDF)"));
}

/** Places with something out, due or close, numbered in the order of the list. */
function spots(m, figure) {
  const byPlace = new Map();
  for (const due of m.due.filter((d) => d.urgency <= 2)) {
    const point = m.card.checkpoints?.find((c) => c.name === due.key);
    const place = m.card.places?.find((p) => p.label === point?.place);
    const at = place && placeOn(figure, m.card.places, place);
    if (at) {
      const spot = byPlace.get(place.name) ?? { ...at, place, dues: [] };
      spot.dues.push(due);
      byPlace.set(place.name, spot);
    }
  }
  return [...byPlace.values()].map((s, i) => ({ ...s, number: i + 1, look: s.dues.some((d) => d.urgency === 0) ? "out" : "due" }));
}

function plan(m) {
  const figure = m.card.figures?.find((f) => f.name === "plan");
  if (!figure) {
    return null;
  }
  const marks = spots(m, figure);
  const word = (d) => (d.urgency === 0 ? "out" : d.urgency === 1 ? "today" : "close");
  return element("section", { class: "sheet plan", "aria-labelledby": "plan-title" },
    element("h2", { id: "plan-title" }, figure.title),
    drawing(m.name, figure, marks, `${figure.title} of ${m.book.title}`),
    marks.length
      ? element("ol", { class: "legend" }, marks.map((s) => element("li", {},
        element("span", { class: `mark ${s.look}`, "aria-hidden": "true" }, String(s.number)),
        element("span", {}, element("strong", {}, s.place.label),
          element("span", { class: "says" }, s.dues.slice(0, 3).map((d) => `${d.label}: ${word(d)}`).join("; "),
            s.dues.length > 3 ? ` and ${s.dues.length - 3} more` : "")))))
      : element("p", { class: "empty" }, "Nothing on the machine is out, due or close."));
}

function next(m, day) {
  const list = m.due.filter((d) => d.kind !== "put back");
  const soon = list.filter((d) => d.urgency <= 1 || d.kind === "reading" || dayNumber(d.reserve.p50) - dayNumber(day) <= SPAN);
  const later = list.length - soon.length;
  return element("section", { class: "sheet group", "aria-labelledby": "next-title" },
    element("h2", { id: "next-title" }, "What runs out next", element("span", { class: "note" }, `now to ${SPAN} days`)),
    soon.length ? dueLines(soon.slice(0, 60), { day, span: SPAN, plates: false }) : element("p", { class: "empty" }, `Nothing in the next ${SPAN} days.`),
    later ? element("p", { class: "empty" }, `${later} more run out later.`) : null);
}

function table(title, heads, rows) {
  return rows.length
    ? element("div", { class: "table" }, element("table", {}, element("caption", {}, title),
      element("thead", {}, element("tr", {}, heads.map((h) => element("th", { scope: "col" }, h)))),
      element("tbody", {}, rows.map((r) => element("tr", {}, r.map((cell, i) =>
        i ? element("td", {}, cell) : element("th", { scope: "row" }, cell)))))))
    : null;
}

const withNote = (text, note) => (note ? [text ?? "", element("span", { class: "says" }, note)] : text ?? "");

function card(m) {
  const c = m.card;
  if (!c.fluids) {
    return null;
  }
  return element("section", { class: "sheet card", "aria-labelledby": "card-title" },
    element("h2", { id: "card-title" }, "What applies to ", element("span", { class: "serial" }, m.serial)),
    element("p", { class: "first-words" }, c.first_words),
    element("div", { class: "tables" },
      table("Fluids", ["Fluid", "Specification", "Holds"], c.fluids.map((f) => [f.label, withNote(f.is, f.note), f.capacity ?? ""])),
      table("Filters and parts", ["Part", "Number"], c.parts.map((p) => [p.label, withNote(p.number, p.instead_of ? `instead of ${p.instead_of}` : "")])),
      table("Pressures and limits", ["Reading", "Limits"], c.limits.map((l) => [l.label, withNote(l.limits, l.want ? `aim for ${l.want}` : "")])),
      table("Torques", ["Fastener", "Torque"], c.torques.map((t) => [t.label, withNote(t.torque, [t.thread, t.again_after ? `again after ${t.again_after}` : ""].filter(Boolean).join(", "))])),
      table("Fuses and relays", ["Position", "Rating", "Protects"], c.fuses.map((f) => [f.position, f.rating_a === null ? "relay" : `${f.rating_a} A`, f.protects || f.label]))));
}

function history(m) {
  const list = m.entries.slice(0, ENTRIES);
  return element("section", { class: "sheet history", "aria-labelledby": "history-title" },
    element("h2", { id: "history-title" }, "Last entries"),
    list.length
      ? element("ol", {}, list.map((e) => element("li", { class: e.state === "stands" ? null : "taken-back" },
        element("span", { class: "when" }, e.at_local), element("span", {}, e.says, e.state === "stands" ? "" : ` (${e.state})`),
        element("span", { class: "by" }, e.by))))
      : element("p", { class: "empty" }, "No entry yet."));
}

export async function machine(name) {
  const [m, list] = await Promise.all([ask(["machines", name]), ask(["today"], { days: 0 })]);
  return {
    title: m.name,
    depot: list.depot,
    body: [
      element("div", { class: "machine-head" }, dataPlate(m), doors(m)),
      element("div", { class: "columns even" }, element("div", {}, next(m, list.day), history(m)), element("div", {}, plan(m))),
      card(m),
      putBackBar(m.put_back.map((o) => ({ label: o.label, since: o.since_local, by: o.by }))),
    ],
  };
}
