// What the reader chooses for this device.
import { html, useSettings, useTitle } from "../lib/ui.js";
import { send, session } from "../lib/api.js";
import { CHOICES, setSetting } from "../lib/settings.js";
import { dayWords, quantity } from "../lib/format.js";
import { t } from "../lib/words.js";

const Choice = ({ name, chosen }) => html`<fieldset class="choices"><legend>${t(`settings.${name}`)}</legend>
  ${CHOICES[name].map((value) => html`<label class="chip"><input type="radio" name=${name} value=${value} checked=${chosen === value} onChange=${() => setSetting(name, value)} /><span>${t(`settings.${name}.${value}`)}</span></label>`)}</fieldset>`;

export default function Settings({ who }) {
  const now = useSettings();
  useTitle(t("settings.title"));
  const leave = async () => {
    await send("POST", ["logout"], {});
    await session(true);
    dispatchEvent(new CustomEvent("witmark:login"));
  };
  return html`<div class="lead"><h1>${t("settings.title")}</h1><p>${t("settings.here")}</p></div>
    <section class="sheet form">${Object.keys(CHOICES).map((name) => html`<${Choice} name=${name} chosen=${now[name]} />`)}
      <p class="says">${t("settings.looks", { day: dayWords("2027-04-02"), pressure: quantity("1.45 bar"), torque: quantity("310 N\u00b7m"), temperature: quantity("31 \u00b0C") })}</p></section>
    ${who?.name ? html`<section class="sheet form"><h2>${t("settings.signed_in", { name: who.name })}</h2><p class="says">${t(`role.${who.role}`)}</p>
      ${who.login_needed ? html`<p class="go"><button class="button" type="button" onClick=${leave}>${t("login.leave")}</button></p>` : null}</section>` : null}`;
}
