// One figure's reasons on a page of its own, so that it can be pointed to.
import { ask } from "../lib/api.js";
import { element } from "../lib/element.js";
import { machineAddress, plate } from "../part/plate.js";
import { reasons } from "../part/reasons.js";

export async function why(name, key) {
  const answer = await ask(["machines", name, "why", key]);
  return {
    title: answer.title,
    body: [
      element("div", { class: "lead" }, element("a", { href: machineAddress(name), "aria-label": `Machine ${name}` }, plate(name, true)), element("h1", {}, answer.title)),
      element("section", { class: "sheet why" }, reasons(answer)),
    ],
  };
}
