// Faults that are being traced on a machine: each goes on where it stands.
import { html, useAsk } from "../lib/ui.js";
import { dayWords } from "../lib/format.js";
import { t } from "../lib/words.js";
import { machineAddress } from "./plate.js";

/** name: the machine's. Nothing when there is none, or when the depot does not answer. */
export function OpenTraces({ name }) {
  const answer = useAsk(["traces"]);
  const open = (answer.data ?? []).filter((one) => one.name === name && !one.ended);
  return open.length ? html`<section class="sheet" aria-labelledby="traces"><h2 id="traces">${t("trace.open")}</h2>${open.map((one) => html`<p class="go" key=${one.trace}>
    <a class="button" href=${machineAddress(name, "trace", one.symptom)}>${one.label}</a> <span class="says">${t("trace.since", { day: dayWords(one.since.slice(0, 10)) })}</span></p>`)}</section>` : null;
}
