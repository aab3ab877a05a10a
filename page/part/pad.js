// A number pad for a gloved thumb: big keys, the figure above it with its unit. `value` is text as typed ("1.9"); decimal comma or
// point as the reader's language has it, always a point in the value. A keyboard works too.
import { html } from "../lib/ui.js";
import { unitShown } from "../lib/format.js";
import { languageName, t } from "../lib/words.js";

const KEYS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "delete"];
const MOST = 9;

/** What a key makes of the text. Pure. */
export function typed(value, key) {
  if (key === "delete") {
    return value.slice(0, -1);
  }
  if (key === "-") {
    return value.startsWith("-") ? value.slice(1) : `-${value}`;
  }
  if (value.length >= MOST || (key === "." && value.includes("."))) {
    return value;
  }
  return key === "." && value.replace("-", "") === "" ? `${value}0.` : value + key;
}

/** value, onInput(text), unit, units: others to choose from, onUnit(unit), signed: may be negative, label: of the figure. */
export function NumberPad({ value, onInput, unit = "", units = [], onUnit = null, signed = false, label = t("pad.figure") }) {
  const sign = languageName() === "es" ? "," : ".";
  const press = (event) => {
    const key = event.key === "," ? "." : event.key === "Backspace" ? "delete" : event.key;
    if (KEYS.includes(key) || (signed && key === "-")) {
      event.preventDefault();
      onInput(typed(value, key));
    }
  };
  return html`<div class="pad" role="group" aria-label=${label} onKeyDown=${press}>
    <p class="pad-figure" aria-live="polite"><output>${value.replace(".", sign) || "\u2013"}</output>
      ${units.length > 1 ? html`<label class="pad-unit"><span class="unseen">${t("pad.unit")}</span><select value=${unit} onChange=${(e) => onUnit?.(e.target.value)}>${units.map((u) => html`<option value=${u}>${unitShown(u)}</option>`)}</select></label>` : html`<span class="unit">${unitShown(unit)}</span>`}</p>
    <div class="pad-keys">${KEYS.map((key) => html`<button type="button" class=${key === "delete" ? "delete" : ""} onClick=${() => onInput(typed(value, key))}>${key === "delete" ? t("pad.delete") : key === "." ? sign : key}</button>`)}
      ${signed ? html`<button type="button" class="sign" onClick=${() => onInput(typed(value, "-"))}>${t("pad.sign")}</button>` : null}</div></div>`;
}
