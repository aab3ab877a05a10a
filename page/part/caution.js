// A caution with its signal word and symbol (ANSI Z535.4, ISO 3864-2): colour never stands alone. A notice has no triangle,
// since it is not about injury.
import { html } from "../lib/ui.js";
import { t } from "../lib/words.js";

const LEVELS = ["DANGER", "WARNING", "CAUTION", "NOTICE"];

const Triangle = () => html`<svg class="triangle" viewBox="0 0 24 22" aria-hidden="true">
  <path class="triangle-ground" d="M12 1 23 21H1z" /><path class="triangle-mark" d="M10.6 7.5h2.8l-.5 7h-1.8zM10.7 16h2.6v2.5h-2.6z" /></svg>`;

/** level as in the book; say: its text. */
export function Caution({ level, say }) {
  const known = LEVELS.includes(level) ? level : "WARNING";
  return html`<div class=${`caution ${known.toLowerCase()}`} role="note">
    <p class="signal">${known === "NOTICE" ? null : html`<${Triangle} />`}${t(`caution.${known}`)}</p>
    <p class="say">${say}</p></div>`;
}

/** The worst first. list: [{level, say}], may be missing. */
export const Cautions = ({ list }) =>
  [...(list ?? [])].sort((a, b) => LEVELS.indexOf(a.level) - LEVELS.indexOf(b.level)).map((one) => html`<${Caution} ...${one} />`);
