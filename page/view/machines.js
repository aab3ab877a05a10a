// All machines, each by its plate.
import { ask } from "../lib/api.js";
import { element } from "../lib/element.js";
import { count, dayWords, hours } from "../lib/words.js";
import { machineAddress, plate } from "../part/plate.js";

function says(m) {
  const words = [];
  if (m.out_of_service) {
    words.push("out of service");
  }
  if (m.open) {
    words.push(`${m.open} to put back`);
  }
  if (m.faults) {
    words.push(count(m.faults, "active fault"));
  }
  return words.join(", ");
}

function row(m) {
  return element("li", {}, element("a", { href: machineAddress(m.name) },
    plate(m.name),
    element("span", { class: "what" }, element("strong", {}, m.book.title || m.trouble || m.book.id), " ",
      element("span", { class: "says" }, [m.serial, m.site].filter(Boolean).join(", "))),
    element("span", { class: "figure" }, hours(m.meter.today_h),
      m.meter.read_at_local ? element("span", { class: "says" }, `read ${dayWords(m.meter.read_at_local)}`) : null),
    element("span", { class: "worst" }, says(m))));
}

export async function machines() {
  const list = await ask(["machines"]);
  return {
    title: "Machines",
    body: [
      element("div", { class: "lead" }, element("h1", {}, "Machines"), element("p", {}, count(list.length, "machine"))),
      list.length
        ? element("ul", { class: "sheet machines" }, list.map(row))
        : element("p", { class: "sheet empty" }, "No machine yet. Add one with: witmark machine add SERIAL"),
    ],
  };
}
