// A verdict: the word, the bracket gauge, why, and by which correction.
import { html } from "../lib/ui.js";
import { quantity } from "../lib/format.js";
import { t, word } from "../lib/words.js";
import { Gauge } from "./gauge.js";
import { Trouble } from "./trouble.js";

/** answer: of judgeReading; checkpoint: of the machine's book. */
export function Verdict({ answer, checkpoint }) {
  if (!answer) {
    return null;
  }
  if (answer.error) {
    return html`<${Trouble} error=${answer.error} />`;
  }
  const g = answer.gauge;
  const text = (value) => (value === null ? null : quantity(`${+value.toPrecision(4)} ${checkpoint.unit}`).replace(/ .*/, ""));
  const moved = answer.corrected && answer.corrected.text !== answer.raw.text;
  return html`<div class=${`verdict ${answer.verdict.replaceAll(" ", "-")}`} aria-live="polite">
    <p class="verdict-word">${word("verdict", answer.verdict)}${moved ? html` <span>${t("verdict.corrected", { value: quantity(answer.corrected.text) })}</span>` : null}</p>
    <${Gauge} wide low=${g.low} high=${g.high} raw=${g.raw} corrected=${g.corrected} judged=${answer.verdict !== "not judged"} lowText=${text(checkpoint.low)} highText=${text(checkpoint.high)} />
    <p>${quantity(answer.reason)}</p>${answer.correction ? html`<p class="says">${quantity(answer.correction)}</p>` : null}</div>`;
}
