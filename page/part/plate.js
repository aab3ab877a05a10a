// The plate riveted to a machine: the depot's number of it.
import { classes, html, to } from "../lib/ui.js";
import { t } from "../lib/words.js";

/** name: the machine's; large: as a heading; link: goes to the machine. */
export function Plate({ name, large = false, link = false }) {
  const own = html`<span class=${classes("plate", large && "large")}>${name}</span>`;
  return link ? html`<a class="plate-link" href=${machineAddress(name)} aria-label=${t("machine.named", { name })}>${own}</a>` : own;
}

/** Address of a machine's page: machineAddress("B-03", "round"). */
export const machineAddress = (name, ...rest) => to(["m", name, ...rest]);
