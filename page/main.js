// Addresses and views. Everything is behind the hash, so that a label or a link can open a machine: #/m/B-03, and
// #witmark:BR6-02204, which is what a label's code says.
import { element } from "./lib/element.js";
import { trouble } from "./part/trouble.js";
import { machine } from "./view/machine.js";
import { machines } from "./view/machines.js";
import { round } from "./view/round.js";
import { today } from "./view/today.js";
import { why } from "./view/why.js";

const main = document.getElementById("main");
let turn = 0; // a view that comes late, after another was asked for, is dropped

/** {view, run} for an address; null when there is none. */
function find(hash) {
  const label = /^#witmark:(.+)$/.exec(hash);
  const [path, query = ""] = (label ? `/m/${label[1]}` : hash.replace(/^#/, "") || "/").split("?");
  const [, first, name, what, key] = path.split("/").map(decodeURIComponent);
  if (first === "") {
    return { view: "today", run: today };
  }
  if (first === "machines") {
    return { view: "machines", run: machines };
  }
  if (first === "m" && name) {
    const views = { "": () => machine(name), round: () => round(name, new URLSearchParams(query)), why: key ? () => why(name, key) : null };
    return views[what ?? ""] ? { view: "machine", run: views[what ?? ""] } : null;
  }
  return null;
}

function show(view, result) {
  document.title = `${result.title}, Witmark`;
  if (result.depot) {
    document.getElementById("depot").textContent = result.depot;
  }
  for (const link of document.querySelectorAll("[data-view]")) {
    link.toggleAttribute("aria-current", false);
    if (link.dataset.view === view) {
      link.setAttribute("aria-current", "page");
    }
  }
  const parts = [...(result.body ?? []), result.error ? trouble(result.error) : null];
  main.replaceChildren(...parts.flat(Infinity).filter(Boolean));
  main.removeAttribute("aria-busy");
}

async function go(first) {
  const mine = ++turn;
  let route = null;
  let result = null;
  const waiting = setTimeout(() => main.setAttribute("aria-busy", "true"), 300);
  try {
    route = find(location.hash);
    if (!route) {
      throw Object.assign(new Error("There is no such view."), { right: "Today and Machines are above." });
    }
    result = await route.run();
  } catch (error) {
    result = { title: "Not shown", body: [element("h1", {}, "Not shown")], error };
  }
  clearTimeout(waiting);
  if (mine === turn) {
    show(route?.view, result);
    if (!first) {
      scrollTo(0, 0);
      main.focus({ preventScroll: true });
    }
  }
}

addEventListener("hashchange", () => go(false));
go(true);
