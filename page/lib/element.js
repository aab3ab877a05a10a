// Elements without a library. Texts become text nodes, so nothing that comes from a depot is ever read as markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name.startsWith("on")) {
      node.addEventListener(name.slice(2), value);
    } else if (value === true) {
      node.setAttribute(name, "");
    } else if (value !== false && value !== null && value !== undefined) {
      node.setAttribute(name, value);
    }
  }
  node.append(...children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false && c !== ""));
  return node;
}

/** An HTML element: element("p", {class: "says"}, "text", otherElement). Attributes that are false or null are left out;
 *  "onclick" and the like take functions. */
export function element(name, attributes, ...children) {
  return fill(document.createElement(name), attributes, children);
}

/** The same for SVG. */
export function drawn(name, attributes, ...children) {
  return fill(document.createElementNS(SVG, name), attributes, children);
}

/** Text that only a screen reader says. */
export function aside(text) {
  return element("span", { class: "unseen" }, text);
}
