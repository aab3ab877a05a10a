// The plate riveted to a machine: the depot's number of it.
import { element } from "../lib/element.js";

export function plate(name, large = false) {
  return element("span", { class: large ? "plate large" : "plate" }, name);
}

/** Address of a machine's page. */
export function machineAddress(name, ...rest) {
  return `#/m/${[name, ...rest].map(encodeURIComponent).join("/")}`;
}
