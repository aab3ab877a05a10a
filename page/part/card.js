// What applies to one serial number: fluids, parts, pressures, torques, fuses; fit to hold up at a parts counter.
import { classes, html } from "../lib/ui.js";
import { quantity } from "../lib/format.js";
import { t } from "../lib/words.js";

/** title, heads: [text], rows: [[cell]]; nothing without rows. */
export const Table = ({ title, heads, rows }) => (rows.length ? html`<div class="table"><table><caption>${title}</caption>
  <thead><tr>${heads.map((h) => html`<th scope="col">${h}</th>`)}</tr></thead>
  <tbody>${rows.map((r) => html`<tr>${r.map((cell, i) => (i ? html`<td>${cell}</td>` : html`<th scope="row">${cell}</th>`))}</tr>`)}</tbody></table></div>` : null);

const withNote = (text, note) => html`${typeof text === "string" ? quantity(text) : text}${note ? html` <span class="says">${quantity(note)}</span>` : null}`;
const heads = (...names) => names.map((name) => t(`card.${name}`));

/** The tables of a card: [{name, heads, rows}], empty ones left out. card: of a machine's answer. */
export const cardTables = (c) => [
  { name: "fluids", heads: heads("fluid", "specification", "holds"), rows: c.fluids.map((f) => [f.label, withNote(f.is, f.note), quantity(f.capacity)]) },
  { name: "parts", heads: heads("part", "number"), rows: c.parts.map((p) => [p.label, withNote(html`<span class="nowrap">${p.number}</span>`, p.instead_of ? t("card.instead_of", { number: p.instead_of }) : "")]) },
  { name: "limits", heads: heads("reading", "limit"), rows: c.limits.map((l) => [l.label, withNote(l.limits, l.want ? t("card.want", { want: l.want }) : "")]) },
  { name: "torques", heads: heads("fastener", "torque"), rows: c.torques.map((q) => [q.label, withNote(q.torque, [q.thread, q.again_after ? t("card.again", { after: q.again_after }) : ""].filter(Boolean).join(", "))]) },
  { name: "fuses", heads: heads("position", "rating", "protects"), rows: c.fuses.map((f) => [f.position, f.rating_a === null ? t("card.relay") : `${f.rating_a} A`, f.protects || f.label]) },
].filter((table) => table.rows.length);

/** only: name of one table; big: to be read across a counter. */
export const CardTables = ({ card, only = null, big = false }) => html`<div class=${classes("tables", big && "big")}>${cardTables(card).filter((x) => !only || x.name === only).map((x) => html`<${Table} title=${t(`card.${x.name}`)} heads=${x.heads} rows=${x.rows} />`)}</div>`;
