// The card alone, in large type: to hold up at a parts counter, or to print.
import { html, useAsk, useTitle, useState } from "../lib/ui.js";
import { hours } from "../lib/format.js";
import { t } from "../lib/words.js";
import { CardTables, cardTables } from "../part/card.js";
import { Plate } from "../part/plate.js";
import { Answer } from "../part/trouble.js";

export default function CardView({ params }) {
  const answer = useAsk(["machines", params.name]);
  const [only, setOnly] = useState("parts");
  useTitle(`${t("card.title")} ${params.name}`);
  return html`<${Answer} whole of=${answer}>${(m) => html`
    <div class="card-head"><${Plate} name=${m.name} large link /><div><h1>${m.serial}</h1><p class="says">${m.book.title}, ${[m.options.join(", "), hours(m.meter.today_h)].filter(Boolean).join(", ")}</p></div></div>
    ${m.card.fluids ? html`<div class="choices" role="group" aria-label=${t("card.which")}>${cardTables(m.card).map((x) => html`<button type="button" class="chip" aria-pressed=${String(only === x.name)} onClick=${() => setOnly(x.name)}>${t(`card.${x.name}`)}</button>`)}<button type="button" class="chip" aria-pressed=${String(only === null)} onClick=${() => setOnly(null)}>${t("all")}</button></div>
    <section class="sheet card">${html`<${CardTables} card=${m.card} only=${only} big />`}<p class="first-words">${m.card.first_words}</p></section>` : html`<p class="sheet empty">${m.trouble}</p>`}`}<//>`;
}
