// A sign for each system of a machine, of our own drawing: what a checkpoint is about, at a glance. On 24 by 24, in the colour of
// the text around it. The word is said beside it or to a screen reader; a system that has no sign shows its first two letters.
import { html } from "../lib/ui.js";

const STROKE = { fill: "none", stroke: "currentColor", "stroke-width": 2.6, "stroke-linecap": "round", "stroke-linejoin": "round" };
const line = (d) => html`<path ...${STROKE} d=${d} />`;
const solid = (d) => html`<path fill="currentColor" fill-rule="evenodd" d=${d} />`;

const SIGNS = {
  air: () => line("M4 5h16M4 9.7h16M4 14.3h16M4 19h16"),
  arms: () => html`${line("M4 20 9 7l11-1")}${solid("M9 3.6a3.4 3.4 0 1 0 0 6.8 3.4 3.4 0 0 0 0-6.8z")}`,
  attachments: () => line("M5 4v8a7 7 0 0 0 14 0V4M5 9h4M15 9h4"),
  body: () => line("M3 6l3.5 12h11L21 6M3 6h3M18 6h3"),
  cab: () => line("M5 20V9l3-5h11v16zM5 11h14"),
  cooling: () => line("M6 4c-3 3 3 5 0 8s3 5 0 8M12 4c-3 3 3 5 0 8s3 5 0 8M18 4c-3 3 3 5 0 8s3 5 0 8"),
  decks: () => solid("M20.5 3.5C10 2.5 3 8 3.5 20.5 14 21.5 21 16 20.5 3.5zM7 17 16.3 7.7"),
  drive: () => html`${line("M12 2.8 20 7.4v9.2l-8 4.6-8-4.6V7.4z")}${solid("M12 8.4a3.6 3.6 0 1 0 0 7.2 3.6 3.6 0 0 0 0-7.2z")}`,
  electric: () => solid("M13.5 2 5 13.5h5.5L9 22l9.5-12H13z"),
  engine: () => solid("M6 3h12v9H6zM6 5.6h12M10.4 12h3.2v4.2h-3.2zM12 15a3.4 3.4 0 1 1 0 6.8 3.4 3.4 0 0 1 0-6.8z"),
  exhaust: () => html`${line("M3 18h9l4-4h5M3 18v0")}${solid("M8 3.5a2.6 2.6 0 1 0 0 5.2 2.6 2.6 0 0 0 0-5.2zM15.5 5a2.2 2.2 0 1 0 0 4.4 2.2 2.2 0 0 0 0-4.4z")}`,
  fuel: () => solid("M12 2.5c3.6 4.6 6.5 8 6.5 11.8a6.5 6.5 0 0 1-13 0C5.5 10.5 8.4 7.1 12 2.5z"),
  grease: () => solid("M12 3.5a3.7 3.7 0 1 0 0 7.4 3.7 3.7 0 0 0 0-7.4zM6.5 13a3.7 3.7 0 1 0 0 7.4 3.7 3.7 0 0 0 0-7.4zM17.5 13a3.7 3.7 0 1 0 0 7.4 3.7 3.7 0 0 0 0-7.4z"),
  hydraulic: () => html`${solid("M2.5 7.5h12v9h-12z")}${line("M14.5 12H21M21 8.5v7")}`,
  rake: () => line("M3 6h18M5 6v12M9.7 6v12M14.3 6v12M19 6v12"),
  safety: () => line("M12 3l7.5 2.8v5.7c0 4.7-3 7.8-7.5 9.5-4.5-1.7-7.5-4.8-7.5-9.5V5.8z"),
  tyres: () => solid("M12 2.5a9.5 9.5 0 1 0 0 19 9.5 9.5 0 0 0 0-19zm0 5.8a3.7 3.7 0 1 1 0 7.4 3.7 3.7 0 0 1 0-7.4z"),
};
const KINDS = {
  "put back": () => solid("M8.5 2h7v9h-7zM8.5 13h7v9h-7z"),
  fault: () => solid("M10.3 3h3.4l-.6 11.5h-2.2zM10.3 17h3.4v3.6h-3.4z"),
  checkpoint: () => line("M4.5 12.5 10 18 19.5 6.5"),
  reading: () => line("M4 18a9 9 0 0 1 16 0M12 18l4-7"),
  found: () => html`${line("M15.5 15.5 21 21")}${line("M10 4a6 6 0 1 0 0 12 6 6 0 0 0 0-12z")}`,
  "torque again": () => line("M12 3.2 19.6 7.6v8.8L12 20.8 4.4 16.4V7.6zM9 12h6"),
};

/** system: as the book names it; kind: of a mark without one. */
export function Glyph({ system = "", kind = "" }) {
  const sign = SIGNS[system] ?? KINDS[kind];
  return html`<svg class="glyph" viewBox="0 0 24 24" aria-hidden="true">${sign ? sign() : html`<text x="12" y="17" text-anchor="middle">${(system || kind || "?").slice(0, 2)}</text>`}</svg>`;
}
