// Why: the answer, then each reason down to the book's line and the log's entry.
import { element } from "../lib/element.js";

export function reasons(why) {
  return element("div", { class: "reasons" },
    element("p", { class: "answer" }, why.answer),
    element("ol", {}, why.because.map((b) =>
      element("li", {}, b.says, b.source ? element("span", { class: "source" }, b.source) : null))));
}
