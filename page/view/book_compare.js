// One edition beside another, or what one serial number has otherwise than another.
import { go, html, to, useAsk, useMemo, useTitle } from "../lib/ui.js";
import { dayWords, quantity } from "../lib/format.js";
import { differences } from "../lib/compare.js";
import { hasWord, t, word } from "../lib/words.js";
import { Answer, Trouble } from "../part/trouble.js";

const Choose = ({ label, value, list, onChange }) => html`<label class="field"><span>${label}</span><select value=${value} onChange=${(e) => onChange(e.target.value)}>${list.map(([key, text]) => html`<option value=${key}>${text}</option>`)}</select></label>`;

const sectionName = (name) => (hasWord(`manual.${name}`) ? t(`manual.${name}`) : name);

/** rows: [{section, name, label?, what, before, after, from?, to?, options?}] */
function Differences({ rows, heads }) {
  if (!rows.length) {
    return html`<p class="sheet empty">${t("compare.same")}</p>`;
  }
  const sections = [...new Set(rows.map((r) => r.section))];
  return sections.map((section) => html`<section class="sheet compare" key=${section}><table><caption>${sectionName(section)}</caption><thead><tr><th scope="col">${t("compare.what")}</th><th scope="col">${heads[0]}</th><th scope="col">${heads[1]}</th></tr></thead>
    <tbody>${rows.filter((r) => r.section === section).map((r) => html`<tr><th scope="row">${r.label ?? r.name}${r.what ? html` <span class="says">${word("member", r.what)}</span>` : null}${r.from || r.options ? html` <span class="says">${[r.from ? `${r.from}\u2013${r.to ?? ""}` : "", r.options].filter(Boolean).join(", ")}</span>` : null}</th><td>${r.before ? quantity(r.before) : html`<span class="says">${t("compare.none")}</span>`}</td><td>${r.after ? quantity(r.after) : html`<span class="says">${t("compare.none")}</span>`}</td></tr>`)}</tbody></table></section>`);
}

function Editions({ book, list, query, set }) {
  const own = list.filter((b) => b.book === book);
  const present = own.find((b) => b.present);
  const from = query.from ?? own.findLast((b) => b !== present)?.hash;
  const answer = useAsk(from ? ["books", book, "diff"] : null, { from, to: query.to ?? present.hash });
  const names = own.map((b) => [b.hash, `${b.edition}, ${dayWords(b.kept)}`]);
  return from ? html`<div class="log-filters"><${Choose} label=${t("compare.from")} value=${from} list=${names} onChange=${(v) => set("from", v)} /><${Choose} label=${t("compare.to")} value=${query.to ?? present.hash} list=${names} onChange=${(v) => set("to", v)} /></div>
    <${Answer} of=${answer}>${(rows) => html`<${Differences} rows=${rows} heads=${[from, query.to ?? present.hash].map((h) => own.find((b) => b.hash === h)?.edition ?? "")} />`}<//>` : html`<p class="sheet empty">${t("compare.one_edition")}</p>`;
}

function Serials({ machines, query, set }) {
  const [one, two] = [query.one ?? machines[0].name, query.two ?? machines.at(-1).name];
  const left = useAsk(["machines", one, "book"]);
  const right = useAsk(["machines", two, "book"]);
  const rows = useMemo(() => (left.data && right.data ? differences(left.data, right.data) : null), [left.data, right.data]);
  const names = machines.map((m) => [m.name, `${m.name}, ${m.serial}`]);
  return html`<div class="log-filters"><${Choose} label=${t("compare.one")} value=${one} list=${names} onChange=${(v) => set("one", v)} /><${Choose} label=${t("compare.two")} value=${two} list=${names} onChange=${(v) => set("two", v)} /></div>
    ${left.error || right.error ? html`<${Trouble} error=${left.error ?? right.error} />` : rows ? html`<${Differences} rows=${rows} heads=${[one, two]} />` : null}`;
}

export default function Compare({ params, query }) {
  const books = useAsk(["books"]);
  const machines = useAsk(["machines"]);
  useTitle(`${t("books.compare")} ${params.book}`);
  const set = (name, value) => go(to(["books", params.book, "compare"], { ...query, [name]: value }), true);
  const both = { error: books.error ?? machines.error, data: books.data && machines.data ? books.data : null };
  const by = query.by ?? "editions";
  return html`<${Answer} whole of=${both}>${(list) => {
    const own = machines.data.filter((m) => m.book.id === params.book);
    return html`<div class="lead"><h1>${list.find((b) => b.book === params.book && b.present)?.title ?? params.book}</h1><p>${t("compare.says")}</p></div>
      <div class="choices compare-by" role="group" aria-label=${t("compare.by")}>${["editions", "serials"].map((k) => html`<button type="button" class="chip" aria-pressed=${String(by === k)} onClick=${() => set("by", k)}>${t(`compare.by.${k}`)}</button>`)}</div>
      ${by === "serials" ? (own.length > 1 ? html`<${Serials} machines=${own} query=${query} set=${set} />` : html`<p class="sheet empty">${t("compare.one_machine")}</p>`) : html`<${Editions} book=${params.book} list=${list} query=${query} set=${set} />`}`;
  }}<//>`;
}
