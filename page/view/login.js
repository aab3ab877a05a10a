// Signing in, where the depot is served beyond this machine.
import { html, useState, useTitle } from "../lib/ui.js";
import { send, session } from "../lib/api.js";
import { t } from "../lib/words.js";
import { Trouble } from "../part/trouble.js";

/** depot: its name; onDone(session) when signed in. */
export default function Login({ depot = "", onDone }) {
  const [error, setError] = useState(null);
  useTitle(t("login.title"));
  async function submit(event) {
    event.preventDefault();
    const given = new FormData(event.target);
    try {
      await send("POST", ["login"], { name: given.get("name"), password: given.get("password") });
      onDone(await session(true));
    } catch (wrong) {
      setError(wrong);
    }
  }
  return html`<form class="sheet form login" onSubmit=${submit}><h1>${t("login.title")}</h1><p class="says">${depot}</p>
    <label class="field"><span>${t("login.name")}</span><input name="name" autocomplete="username" required autocapitalize="none" /></label>
    <label class="field"><span>${t("login.password")}</span><input name="password" type="password" autocomplete="current-password" required /></label>
    ${error ? html`<${Trouble} error=${error} />` : null}
    <p class="go"><button class="button main" type="submit">${t("login.enter")}</button></p></form>`;
}
