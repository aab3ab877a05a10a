// Today: what is out, what is due today, what is to come.
import { ask } from "../lib/api.js";
import { element } from "../lib/element.js";
import { GROUPS, lines } from "../lib/group.js";
import { count, dayLong, hours } from "../lib/words.js";
import { dueLines } from "../part/due.js";
import { machineAddress, plate } from "../part/plate.js";

const SPAN = 30;

const NOTHING = { out: "Nothing is out.", today: "Nothing falls due today.", come: `Nothing runs out in the next ${SPAN} days.` };

function group(g, list, day) {
  const own = list.filter(g.has);
  return element("section", { class: `sheet group ${g.key}`, "aria-labelledby": `group-${g.key}` },
    element("h2", { id: `group-${g.key}` }, g.title, " ", element("span", { class: "count" }, String(lines(own).length)),
      g.key === "come" ? element("span", { class: "note" }, `now to ${SPAN} days`) : null),
    own.length ? dueLines(own, { day, span: SPAN, plates: true }) : element("p", { class: "empty" }, NOTHING[g.key]));
}

/** The worst that a machine has: a word, so that no colour is needed. */
function worst(name, list) {
  const own = list.filter((due) => due.name === name);
  const open = own.filter((due) => due.kind === "put back").length;
  const out = lines(own.filter((due) => due.urgency === 0 && due.kind !== "put back")).length;
  return [open ? `${open} to put back` : "", out ? `${out} out` : ""].filter(Boolean).join(", ");
}

function fleet(machines, list) {
  return element("aside", { class: "fleet", "aria-label": "Machines" },
    element("h2", {}, "Machines"),
    element("ul", {}, machines.map((m) => element("li", {},
      element("a", { href: machineAddress(m.name) }, plate(m.name),
        element("span", {}, element("span", { class: "title" }, m.book.title || m.book.id), " ",
          element("span", { class: "says" }, hours(m.meter.today_h))),
        element("span", { class: "worst" }, m.out_of_service ? "out of service" : worst(m.name, list)))))));
}

export async function today() {
  const [list, machines] = await Promise.all([ask(["today"], { days: SPAN }), ask(["machines"])]);
  const counts = GROUPS.slice(0, 2).map((g) => lines(list.due.filter(g.has)).length);
  return {
    title: "Today",
    depot: list.depot,
    body: [
      element("div", { class: "lead" }, element("h1", {}, dayLong(list.day)),
        element("p", {}, `${count(list.machines, "machine")}, ${counts[0]} out, ${counts[1]} due today`)),
      element("div", { class: "columns" },
        element("div", {}, GROUPS.map((g) => group(g, list.due, list.day))),
        fleet(machines, list.due)),
    ],
  };
}
