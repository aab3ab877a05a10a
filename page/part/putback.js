// The put-back list: in sight at the lower edge as long as anything is open.
import { drawn, element } from "../lib/element.js";
import { count } from "../lib/words.js";

function stripe() {
  return drawn("svg", { class: "stripe", viewBox: "0 0 6 20", "aria-hidden": "true" }, drawn("path", { d: "M0 0h6v9H0zM0 11h6v9H0z" }));
}

/** items: [{label, since, by}]; null when nothing is open. */
export function putBackBar(items) {
  if (!items.length) {
    return null;
  }
  return element("section", { class: "put-back-bar", "aria-label": "Put-back list" },
    stripe(), element("h2", {}, `${count(items.length, "thing")} to put back`),
    element("ul", {}, items.map((i) => element("li", {}, element("strong", {}, i.label), ` since ${i.since}, ${i.by}`))));
}

/** "goes on the put-back list: ..." inside a step. */
export function opensAndCloses(step) {
  return [
    ...(step.opens ?? []).map((o) => element("p", { class: "opens" }, stripe(), element("span", {}, "goes on the put-back list: ", element("strong", {}, o)))),
    ...(step.closes ?? []).map((c) => element("p", { class: "closes" }, stripe(), element("span", {}, "put back: ", element("strong", {}, c)))),
  ];
}
