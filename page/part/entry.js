// An entry of the log as a strip shows it: its stripe, when, what, by whom; its photos; and what can be done about it.
import { classes, html, to, useState } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { attach } from "../lib/attach.js";
import { quantity, timeLocal } from "../lib/format.js";
import { record } from "../lib/record.js";
import { t, word } from "../lib/words.js";
import { Plate } from "./plate.js";
import { Stripe } from "./stripe.js";
import { Trouble } from "./trouble.js";

const isPicture = (e) => /^image\/(png|jpeg|gif|webp|avif)$/.test(e.body.type ?? "");

/** The file that an entry of kind attachment names: a picture, or a link. */
export const Attached = ({ e }) => html`<a class=${isPicture(e) ? "photo" : "file"} href=${address(["attachments", e.body.sha256])}>${isPicture(e) ? html`<img src=${address(["attachments", e.body.sha256])} alt=${e.body.name} loading="lazy" />` : e.body.name}</a>`;

/** Members of a body that a correction may change: what is said, not what it is about. */
export const changeable = (body) => Object.entries(body).filter(([name, value]) => ["string", "number", "boolean"].includes(typeof value) && !["import_key", "sha256", "bytes", "book", "serial", "corrects"].includes(name));

/** A correction: the members as they stand, one reason for it. The entry itself stays as it was written. */
function Correct({ e, onDone }) {
  const [error, setError] = useState(null);
  async function submit(event) {
    event.preventDefault();
    const given = new FormData(event.target);
    const body = { ...e.body };
    delete body.import_key;
    for (const [name, value] of changeable(e.body)) {
      const text = given.get(name);
      body[name] = typeof value === "number" ? Number(String(text).replace(",", ".")) : typeof value === "boolean" ? text === "true" : text;
    }
    const withdraw = event.submitter?.value === "withdraw";
    try {
      await record({ machine: e.machine, kind: "correction", body: { corrects: e.id, reason: given.get("reason"), ...(withdraw ? { void: true } : { body }) } });
      onDone();
    } catch (wrong) {
      setError(wrong);
    }
  }
  return html`<form class="form correct" onSubmit=${submit}><p class="says">${t("entry.correct.says")}</p>
    ${changeable(e.body).map(([name, value]) => html`<label class="field"><span>${word("member", name)}</span>${typeof value === "boolean" ? html`<select name=${name} value=${String(value)}><option>true</option><option>false</option></select>` : html`<input name=${name} value=${String(value)} inputmode=${typeof value === "number" ? "decimal" : null} />`}</label>`)}
    <label class="field"><span>${t("entry.reason")}</span><input name="reason" required maxlength="400" /></label>
    ${error ? html`<${Trouble} error=${error} />` : null}
    <p class="go"><button class="button main" type="submit" value="change">${t("entry.correct")}</button><button class="button" type="submit" value="withdraw">${t("entry.withdraw")}</button><button class="button" type="button" onClick=${onDone}>${t("cancel")}</button></p></form>`;
}

function AttachTo({ e, onDone }) {
  const [error, setError] = useState(null);
  const run = async (event) => {
    try {
      for (const file of event.target.files) {
        await attach({ file, about: e.id, machine: e.machine });
      }
      onDone();
    } catch (wrong) {
      setError(wrong);
    }
  };
  return html`<label class="button"><input class="unseen" type="file" accept="image/*,application/pdf,text/*" multiple onChange=${run} />${t("entry.attach")}</label>${error ? html`<${Trouble} error=${error} />` : null}`;
}

/** e: as the API gives it; photos: entries of kind attachment about it; plate: with its machine's plate; acts: may correct and
 *  attach; state: of its stripe. */
export function Entry({ e, photos = [], plate = false, acts = false, state = null }) {
  const [open, setOpen] = useState(false);
  const [correcting, setCorrecting] = useState(false);
  const stripe = state ?? (e.state === "stands" || e.state === "corrected" ? "depot" : "refused");
  return html`<li class=${classes("entry", e.state === "withdrawn" && "taken-back", plate && "plated")}>
    <button type="button" class="entry-line" aria-expanded=${String(open)} onClick=${() => setOpen(!open)}><${Stripe} state=${stripe} bare /><span class="when">${timeLocal(e.at_local)}</span>${plate ? html`<span class="entry-plate">${e.name || e.machine ? html`<${Plate} name=${e.name || e.machine} />` : null}</span>` : null}
      <span class="entry-says">${quantity(e.says)}${e.state === "stands" ? "" : html` <b>(${t(`entry.${e.state}`)})</b>`}</span><span class="by">${e.by}</span></button>
    ${e.kind === "attachment" ? html`<p class="photos"><${Attached} e=${e} /></p>` : null}
    ${photos.length ? html`<p class="photos">${photos.map((p) => html`<${Attached} e=${p} />`)}</p>` : null}
    ${open ? html`<div class="below"><dl class="facts"><div><dt>${t("entry.kind")}</dt><dd>${word("entry_kind", e.kind)}</dd></div><div><dt>${t("entry.id")}</dt><dd><code>${e.id}</code></dd></div><div><dt>${t("entry.made")}</dt><dd>${e.made}</dd></div><div><dt>${t("entry.hash")}</dt><dd><code>${e.hash.slice(0, 16)}…</code></dd></div><div><dt>${t("entry.place")}</dt><dd>${t("entry.place_says", { seq: e.seq, writer: e.writer.slice(0, 8) })}</dd></div>${changeable(e.body).map(([name, value]) => html`<div><dt>${word("member", name)}</dt><dd>${String(value)}</dd></div>`)}</dl>
      ${correcting ? html`<${Correct} e=${e} onDone=${() => setCorrecting(false)} />` : acts ? html`<p class="go">${e.kind !== "correction" && e.state !== "withdrawn" ? html`<button type="button" class="button" onClick=${() => setCorrecting(true)}>${t("entry.correct")}</button>` : null}${e.kind !== "attachment" ? html`<${AttachTo} e=${e} onDone=${() => setOpen(false)} />` : null}${e.machine ? html`<a class="button" href=${to(["m", e.machine])}>${t("entry.machine")}</a>` : null}</p>` : null}</div>` : null}</li>`;
}

/** Entries with the photos that belong to them put beside them. */
export function withPhotos(entries) {
  const ids = new Set(entries.map((e) => e.id));
  const about = new Map();
  for (const e of entries) {
    if (e.kind === "attachment" && ids.has(e.body.about)) {
      about.set(e.body.about, [...(about.get(e.body.about) ?? []), e]);
    }
  }
  return entries.filter((e) => !(e.kind === "attachment" && ids.has(e.body.about))).map((e) => ({ e, photos: about.get(e.id) ?? [] }));
}
