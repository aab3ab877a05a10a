// The books of the depot: as a manual for one of their machines, as text, one edition beside another.
import { html, to, useAsk, useTitle } from "../lib/ui.js";
import { may } from "../lib/api.js";
import { dayWords } from "../lib/format.js";
import { t } from "../lib/words.js";
import { Plate } from "../part/plate.js";
import { Answer } from "../part/trouble.js";

function Book({ book, editions, machines, who }) {
  const own = machines.filter((m) => m.book.id === book.book);
  return html`<section class="sheet book" aria-labelledby=${`book-${book.book}`}><h2 id=${`book-${book.book}`}>${book.title}<span class="note">${book.maker}</span></h2>
    <dl class="facts inside"><div><dt>${t("books.edition")}</dt><dd>${book.edition}</dd></div><div><dt>${t("books.kept")}</dt><dd>${dayWords(book.kept)}</dd></div><div><dt>${t("books.editions")}</dt><dd>${editions}</dd></div><div><dt>${t("books.hash")}</dt><dd><code>${book.hash.slice(7, 23)}…</code></dd></div></dl>
    <h3 class="inside">${t("books.as_manual")}</h3>
    ${own.length ? html`<ul class="plates inside">${own.map((m) => html`<li><a class="plate-link" href=${to(["m", m.name, "manual"])} aria-label=${t("books.manual_of", { name: m.name })}><${Plate} name=${m.name} /></a></li>`)}</ul>` : html`<p class="empty">${t("books.no_machine")}</p>`}
    <p class="go inside"><a class="button" href=${to(["books", book.book, "text"])}>${t(may(who, "books") ? "books.edit" : "books.text")}</a><a class="button" href=${to(["books", book.book, "compare"])}>${t("books.compare")}</a></p></section>`;
}

export default function Books({ who }) {
  const books = useAsk(["books"]);
  const machines = useAsk(["machines"]);
  useTitle(t("books.title"));
  const both = { error: books.error ?? machines.error, data: books.data && machines.data ? books.data : null };
  return html`<${Answer} whole of=${both}>${(list) => html`<div class="lead"><h1>${t("books.title")}</h1><p>${t("books.says")}</p></div>
    <div class="books">${list.filter((b) => b.present).map((b) => html`<${Book} key=${b.book} book=${b} editions=${list.filter((x) => x.book === b.book).length} machines=${machines.data} who=${who} />`)}</div>
    ${list.length ? null : html`<p class="sheet empty">${t("books.none")}</p>`}`}<//>`;
}
