// What went wrong and what would be right.
import { element } from "../lib/element.js";

export function trouble(error) {
  return element("div", { class: "trouble", role: "alert" },
    element("p", {}, element("strong", {}, error.message)),
    error.right ? element("p", {}, error.right) : null);
}
