// The put-back list of one machine or of all: since when, by whom, how it is closed in the book's words; and handing the machine back,
// which is refused while anything is open unless somebody who may signs a reason.
import { html, to, useAsk, useState, useTitle } from "../lib/ui.js";
import { may } from "../lib/api.js";
import { openItems } from "../lib/adjust.js";
import { timeLocal } from "../lib/format.js";
import { useHere } from "../lib/here.js";
import { record } from "../lib/record.js";
import { t } from "../lib/words.js";
import { Caution } from "../part/caution.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Stripe } from "../part/stripe.js";
import { Answer, Trouble } from "../part/trouble.js";

/** What takes an item off the list: an entry, or another view. */
function Close({ item, serial, onError }) {
  const [busy, setBusy] = useState(false);
  const put = async () => {
    setBusy(true);
    try {
      await record(item.kind === "inhibited" ? { machine: serial, kind: "burn", body: { type: "released" }, says: item.label } : { machine: serial, kind: "put-back", body: { what: item.item }, says: item.label });
    } catch (e) {
      onError(Object.assign(new Error(e.message), { right: e.right ?? "" }));
    }
    setBusy(false);
  };
  return item.kind === "trial" ? html`<a class="button" href=${to(["m", item.machine, "adjust", item.item])}>${t("putback.ledger")}</a>`
    : html`<button type="button" class="button" disabled=${busy} onClick=${put}>${t(item.kind === "inhibited" ? "putback.release" : "putback.is_back")}</button>`;
}

const Line = ({ item, serial, onError }) => html`<li class="open-line"><${Stripe} bare state="phone" /><div><strong>${item.label}</strong>
  <span class="says">${t("putback.since", { since: timeLocal(item.since_local.replace("T", " ")), by: item.by })}${item.here ? ` (${t("adjust.on_phone")})` : ""}</span>
  ${item.close ? html`<span class="close"><span class="says">${t("putback.how")}</span> ${item.close}</span>` : null}
  ${item.source ? html`<span class="source">${item.source}</span>` : null}</div>
  <${Close} item=${item} serial=${serial} onError=${onError} /></li>`;

/** Hands the machine back; with something open only by those who plan, with a reason. */
function HandBack({ serial, items, who }) {
  const [given, setGiven] = useState({ to: "", despite: "" });
  const [state, setState] = useState(null);
  const open = items.length > 0;
  const allowed = !open || may(who, "plan");
  const hand = async (event) => {
    event.preventDefault();
    const list = items.map((i) => ({ what: i.item, label: i.label.slice(0, 200), since: i.since, by: i.by }));
    const body = { ...(given.to.trim() ? { to: given.to.trim() } : {}), ...(open ? { open: list, despite: given.despite.trim() } : {}) };
    try {
      await record({ machine: serial, kind: "handed-back", body, says: t("putback.handed") });
      setState({ done: true });
    } catch (e) {
      setState({ error: Object.assign(new Error(e.message), { right: e.right ?? "" }) });
    }
  };
  const type = (name) => (e) => setGiven({ ...given, [name]: e.target.value });
  return html`<form class="sheet form" onSubmit=${hand}><h2>${t("putback.hand_back")}</h2>
    ${open ? html`<p><strong>${t("putback.not_yet", { n: items.length })}</strong></p>` : html`<p>${t("putback.whole")}</p>`}
    <${Caution} level="NOTICE" say=${t("putback.test")} />
    <label class="field"><span>${t("putback.to")}</span><input value=${given.to} onInput=${type("to")} maxlength="100" autocomplete="off" /></label>
    ${open && allowed ? html`<label class="field"><span>${t("putback.despite")}</span><textarea rows="2" value=${given.despite} onInput=${type("despite")} /><span class="hint">${t("putback.despite.hint")}</span></label>` : null}
    ${open && !allowed ? html`<p class="says">${t("putback.plan_only")}</p>` : null}
    <button class="button main" disabled=${open && (!allowed || !given.despite.trim())}>${t(open ? "putback.hand_back_open" : "putback.hand_back")}</button>
    ${state?.done ? html`<p role="status"><strong>${t("putback.handed")}</strong></p>` : null}${state?.error ? html`<${Trouble} error=${state.error} />` : null}</form>`;
}

function OfMachine({ name, machine, list, who }) {
  const here = useHere(machine.serial);
  const [error, setError] = useState(null);
  const items = openItems(list, here?.entries ?? [], new Set());
  return html`<div class="lead"><${Plate} name=${machine.name} large /><h1>${t("putback.title")}</h1></div>
    <div class="columns"><section class="sheet"><ul class="open-list">${items.map((i) => html`<${Line} key=${i.item} item=${i} serial=${machine.serial} onError=${setError} />`)}</ul>
      ${items.length ? null : html`<p class="empty">${t("putback.none")}</p>`}${error ? html`<${Trouble} error=${error} />` : null}</section>
      <div><${HandBack} serial=${machine.serial} items=${items} who=${who} /></div></div>
    <p class="go"><a class="button" href=${machineAddress(name)}>${t("adjust.machine", { name: machine.name })}</a><a class="button" href=${to(["m", name, "recover"])}>${t("recovery.title")}</a><a class="button" href=${to(["m", name, "adjust"])}>${t("adjust.title")}</a></p>`;
}

const OfAll = ({ list }) => {
  const machines = [...new Set(list.map((i) => i.machine))];
  return html`<div class="lead"><h1>${t("putback.title")}</h1><p>${t("putback.count", { n: list.length })}</p></div>
    ${machines.map((m) => html`<section class="sheet"><h2><a href=${to(["m", m, "putback"])}><${Plate} name=${m} /></a></h2><ul class="lines">${list.filter((i) => i.machine === m).map((i) => html`<li><a class="line" href=${to(["m", m, "putback"])}><span class="what open"><strong>${i.label}</strong><span class="says">${t("putback.since", { since: timeLocal(i.since_local), by: i.by })}</span></span></a></li>`)}</ul></section>`)}
    ${list.length ? null : html`<p class="empty">${t("putback.none")}</p>`}`;
};

export default function PutBack({ params, who }) {
  const list = useAsk(params.name ? ["machines", params.name, "put-back"] : ["put-back"]);
  const machine = useAsk(params.name ? ["machines", params.name] : null);
  useTitle(`${params.name ?? ""} ${t("putback.title")}`.trim());
  const data = { list: list.data ?? list.old, machine: machine.data ?? machine.old };
  const whole = { error: list.error ?? machine.error, data: data.list && (!params.name || data.machine) ? data : null };
  return html`<${Answer} whole of=${whole}>${(d) => (params.name ? html`<${OfMachine} name=${params.name} machine=${d.machine} list=${d.list} who=${who} />` : html`<${OfAll} list=${d.list} />`)}<//>`;
}
