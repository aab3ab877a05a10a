// Lines of what is due. Each opens to tell why: the chain of reasons, asked for when it is opened.
import { ask } from "../lib/api.js";
import { element } from "../lib/element.js";
import { lines } from "../lib/group.js";
import { count } from "../lib/words.js";
import { machineAddress, plate } from "./plate.js";
import { strip } from "./strip.js";
import { reasons } from "./reasons.js";
import { trouble } from "./trouble.js";

let serial = 0; // makes ids unique within the document

/** A button that opens and closes what stands under it; `content` is called the first time. */
function opening(head, content) {
  const id = `open-${++serial}`;
  const below = element("div", { class: "below", id, hidden: true });
  const button = element("button", { class: "line", type: "button", "aria-expanded": "false", "aria-controls": id }, head);
  button.addEventListener("click", () => {
    below.hidden = !below.hidden;
    button.setAttribute("aria-expanded", String(!below.hidden));
    if (!below.firstChild) {
      below.append(content());
    }
  });
  return [button, below];
}

function whyOf(due) {
  const box = element("div", { class: "why", "aria-live": "polite" });
  ask(["machines", due.name, "why", due.key])
    .then((why) => box.replaceChildren(reasons(why), element("p", { class: "go" },
      element("a", { class: "button", href: machineAddress(due.name) }, `Machine ${due.name}`),
      element("a", { class: "button", href: machineAddress(due.name, "round") }, "Its round"))))
    .catch((e) => box.replaceChildren(trouble(e)));
  return box;
}

function head(due, label, context) {
  return [
    context.plates ? plate(due.name) : null,
    element("span", { class: due.kind === "put back" ? "what open" : "what" },
      element("strong", {}, label), " ", element("span", { class: "says" }, due.says)),
    strip(due, context.day, context.span),
  ];
}

function lineOf({ due, points }, context) {
  if (!points) {
    return element("li", {}, opening(head(due, due.label, context), () => whyOf(due)));
  }
  const label = `${due.service_label}, ${count(points.length, "point")}`;
  const inner = { ...context, plates: false };
  return element("li", {}, opening(head(due, label, context), () =>
    element("ul", { class: "lines points" }, points.map((p) => lineOf({ due: p }, inner)))));
}

/** context: {day, span, plates}: today, days that a strip shows, whether each line carries its machine's plate. */
export function dueLines(list, context) {
  return element("ul", { class: context.plates ? "lines plated" : "lines" }, lines(list).map((line) => lineOf(line, context)));
}
