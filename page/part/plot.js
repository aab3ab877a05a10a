// Holds a plot that the core's own drawing code made (the same on a sheet): asked for as SVG, shown as a picture, with its words.
import { html, useSettings, useState } from "../lib/ui.js";
import { languageOf } from "../lib/settings.js";
import { address } from "../lib/api.js";
import { t } from "../lib/words.js";

/** parts: of the API's address, ["machines", "B-03", "plot", "front-tyre.svg"]; title: what it shows. Nothing stands where there is
 *  none. svg: the text itself where the page has it already (offline, from the core). */
export function Plot({ parts = null, query = {}, svg = null, title }) {
  const [none, setNone] = useState(false);
  useSettings();
  const source = svg ? `data:image/svg+xml,${encodeURIComponent(svg)}` : address(parts, { ...query, language: languageOf() });
  return none ? html`<p class="says">${t("plot.none", { title })}</p>`
    : html`<figure class="plot"><img src=${source} alt=${title} loading="lazy" onError=${() => setNone(true)} /></figure>`;
}
