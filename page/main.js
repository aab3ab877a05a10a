// Addresses, tabs and what stands around every view. Everything is behind the hash, so that a label or a link can open a
// machine: #/m/B-03, and #witmark:BR6-02204, which is what a label's code says.
import { html, render, useEffect, useEvent, useRef, useSettings, useState, useTitle } from "./lib/ui.js";
import { session } from "./lib/api.js";
import { languageOf, settings, watchSettings } from "./lib/settings.js";
import { t, useWordList } from "./lib/words.js";
import { startKeeping } from "./lib/keep.js";
import { Find } from "./part/find.js";
import { OfflineNote, PhoneLink } from "./part/offline.js";
import { PutBackLink } from "./part/putback.js";
import { Stripe } from "./part/stripe.js";
import { Trouble, Waiting } from "./part/trouble.js";
import Login from "./view/login.js";

/** One row a view. path: parts that begin with ":" are parameters. load: the module whose default export is the component, called
 *  with {params, query, who, paths} (paths: of all views). tab: the tab it stands under; home: it is what that tab opens. style: a style sheet of its own. */
const VIEWS = [
  { path: "/", load: () => import("./view/horizon.js"), tab: "horizon", home: true, style: "style/horizon.css" },
  { path: "/today", load: () => import("./view/today.js"), tab: "today", home: true },
  { path: "/machines", load: () => import("./view/machines.js"), tab: "horizon" },
  { path: "/m/:name", load: () => import("./view/machine.js"), tab: "horizon" },
  { path: "/m/:name/card", load: () => import("./view/card.js"), tab: "horizon" },
  { path: "/m/:name/manual", load: () => import("./view/manual.js"), tab: "books", style: "style/books.css" },
  { path: "/books", load: () => import("./view/books.js"), tab: "books", home: true, style: "style/books.css" },
  { path: "/books/:book/text", load: () => import("./view/book_text.js"), tab: "books", style: "style/books.css" },
  { path: "/books/:book/compare", load: () => import("./view/book_compare.js"), tab: "books", style: "style/books.css" },
  { path: "/m/:name/record", load: () => import("./view/record.js"), tab: "log" },
  { path: "/record", load: () => import("./view/record.js"), tab: "log" },
  { path: "/rounds", load: () => import("./view/rounds.js"), tab: "round", home: true },
  { path: "/m/:name/round", load: () => import("./view/round.js"), tab: "round" },
  { path: "/m/:name/round/walk", load: () => import("./view/walk.js"), tab: "round", style: "style/walk.css" },
  { path: "/m/:name/adjust", load: () => import("./view/adjust.js"), tab: "horizon", style: "style/adjust.css" },
  { path: "/m/:name/adjust/:adjuster", load: () => import("./view/adjust.js"), tab: "horizon", style: "style/adjust.css" },
  { path: "/m/:name/recover", load: () => import("./view/recover.js"), tab: "horizon", style: "style/adjust.css" },
  { path: "/m/:name/putback", load: () => import("./view/putback.js"), tab: "horizon", style: "style/adjust.css" },
  { path: "/putback", load: () => import("./view/putback.js"), tab: "today", style: "style/adjust.css" },
  { path: "/m/:name/why/:key", load: () => import("./view/why.js"), tab: "horizon" },
  { path: "/phone", load: () => import("./view/phone.js"), style: "style/walk.css" },
  { path: "/log", load: () => import("./view/log.js"), tab: "log", home: true },
  { path: "/exhaust", load: () => import("./view/exhaust.js"), tab: "exhaust", home: true, style: "style/exhaust.css" },
  { path: "/m/:name/exhaust", load: () => import("./view/exhaust.js"), tab: "exhaust", style: "style/exhaust.css" },
  { path: "/shelf", load: () => import("./view/shelf.js"), tab: "shelf", home: true, style: "style/exhaust.css" },
  { path: "/m/:name/trace", load: () => import("./view/trace.js"), tab: "faults", style: "style/trace.css" },
  { path: "/m/:name/trace/:symptom", load: () => import("./view/trace.js"), tab: "faults", style: "style/trace.css" },
  { path: "/m/:name/trace/:symptom/why/:key", load: () => import("./view/trace_why.js"), tab: "faults" },
  { path: "/faults", load: () => import("./view/faults.js"), tab: "faults", home: true, style: "style/trace.css" },
  { path: "/settings", load: () => import("./view/settings.js") },
];

/** In this order; one without a home view is not shown. */
const TABS = ["horizon", "today", "round", "faults", "exhaust", "shelf", "books", "log"];

/** {view, params, query} for a hash; null when there is none. A path's "" at the end is let go. */
function find(hash) {
  const label = /^#witmark:(.+)$/.exec(hash);
  const [path, query = ""] = (label ? `/m/${label[1]}` : hash.replace(/^#/, "") || "/").split("?");
  const given = path.split("/").slice(1).filter((part, i) => part !== "" || i === 0).map(decodeURIComponent);
  for (const view of VIEWS) {
    const wanted = view.path.split("/").slice(1);
    if (wanted.length === given.length && wanted.every((w, i) => w.startsWith(":") || w === given[i])) {
      const params = Object.fromEntries(wanted.map((w, i) => [w.slice(1), given[i]]).filter((_, i) => wanted[i].startsWith(":")));
      return { view, params, query: Object.fromEntries(new URLSearchParams(query)) };
    }
  }
  return null;
}

/** Resolves when the view's own style sheet is here, or can't be had: a view drawn before it would make a phone zoom out. */
function styled(file) {
  const link = file && (document.querySelector(`link[href="${file}"]`) ?? Object.assign(document.createElement("link"), { rel: "stylesheet", href: file }));
  if (!link || link.sheet) {
    return null;
  }
  return new Promise((resolve) => {
    link.addEventListener("load", resolve);
    link.addEventListener("error", () => {
      link.remove(); // asked for anew by the next view
      resolve();
    });
    document.head.append(link);
  });
}

/** What stands where nothing can be shown: an address that isn't one, a module that did not come. */
function NotShown({ error }) {
  useTitle(t("not_shown"));
  return html`<h1>${t("not_shown")}</h1><${Trouble} error=${error} />`;
}

/** The view of an address; the one before stays until its module is here. */
function View({ hash, who }) {
  const [shown, set] = useState(null);
  const turn = useRef(0);
  useEffect(() => {
    const mine = ++turn.current;
    const found = find(hash);
    if (!found) {
      set({ key: hash, what: html`<${NotShown} error=${Object.assign(new Error(t("no_view")), { right: t("no_view.right") })} />` });
      return;
    }
    Promise.all([found.view.load(), styled(found.view.style)]).then(([module]) => {
      const Component = module.default;
      return { key: `${found.view.path} ${JSON.stringify(found.params)}`, what: html`<${Component} params=${found.params} query=${found.query} who=${who} paths=${VIEWS.map((v) => v.path)} />` };
    }, () => ({ key: hash, what: html`<${NotShown} error=${Object.assign(new Error(t("api.silent")), { right: t("api.start_it") })} />` }))
      .then((next) => mine === turn.current && set(next));
  }, [hash, who]);
  return shown ? html`<div key=${shown.key} class="view">${shown.what}</div>` : html`<${Waiting} />`;
}

const Tabs = ({ lit }) => html`<nav class="tabs" aria-label=${t("tabs")}>${TABS.map((tab) => [tab, VIEWS.find((v) => v.tab === tab && v.home)]).filter(([, view]) => view)
  .map(([tab, view]) => html`<a href=${`#${view.path}`} data-tab=${tab} aria-current=${lit === tab ? "page" : null}>${t(`tab.${tab}`)}</a>`)}</nav>`;

function Top({ who, lit }) {
  return html`<header class="top"><a class="wordmark" href="#/" aria-label=${t("home")}>Wit<${Stripe} bare />mark</a><${Tabs} lit=${lit} />
    <div class="top-right"><${PhoneLink} /><${PutBackLink} who=${who} /><${Find} /><a class="depot" href="#/settings" aria-label=${who?.depot ? `${who.depot}, ${t("settings.title")}` : t("settings.title")}><span>${who?.depot || t("settings.title")}</span><svg viewBox="0 0 20 20" aria-hidden="true"><path d="M3 6h14M3 14h14" /><circle cx="13" cy="6" r="2.6" /><circle cx="7" cy="14" r="2.6" /></svg></a></div></header>`;
}

function Page() {
  useSettings();
  const [hash, setHash] = useState(location.hash);
  const [who, setWho] = useState(undefined); // undefined: not known yet; null: the server does not answer
  const main = useRef(null);
  const moved = useRef(false);
  const askWho = () => session(true).then(setWho, () => setWho(null));
  useEffect(() => { askWho(); }, []);
  useEvent("witmark:login", askWho);
  useEvent("hashchange", () => {
    moved.current = find(location.hash)?.view !== find(hash)?.view || location.hash.split("?")[0] !== hash.split("?")[0];
    setHash(location.hash);
  });
  useEffect(() => {
    if (moved.current) {
      scrollTo(0, 0);
      main.current.focus({ preventScroll: true });
    }
  }, [hash]);
  const locked = who && who.login_needed && !who.signed_in;
  return html`<a class="skip" href="#main" onClick=${(e) => { e.preventDefault(); main.current.focus(); }}>${t("skip")}</a><${Top} who=${who} lit=${find(hash)?.view.tab} />
    <main id="main" tabindex="-1" ref=${main}><${OfflineNote} />${locked ? html`<${Login} depot=${who.depot} onDone=${setWho} />` : html`<${View} hash=${hash} who=${who} />`}</main>`;
}

async function words() {
  const name = languageOf();
  useWordList(name, await (await fetch(`words/${name}.json`)).json());
  document.documentElement.lang = name;
  document.documentElement.dataset.scheme = settings().scheme;
}

let language = languageOf();
async function draw() {
  await words();
  const page = document.getElementById("page");
  if (page.querySelector("noscript")) {
    page.replaceChildren();
  }
  render(html`<${Page} key=${languageOf()} />`, page);
}

watchSettings((now) => {
  document.documentElement.dataset.scheme = now.scheme;
  if (languageOf() !== language) {
    language = languageOf();
    draw();
  }
});
await draw();
startKeeping();
