// This phone: its entries and the state of each, what is kept on it, and whether it works without a network and why not.
import { html, useCallback, useEffect, useEvent, useState, useTitle } from "../lib/ui.js";
import { ask } from "../lib/api.js";
import { keepSite, keeping, keptMachines, letGo } from "../lib/keep.js";
import { changes, sendNow, store } from "../lib/record.js";
import { t } from "../lib/words.js";
import { EntriesState, useKeeping, useStanding } from "../part/offline.js";
import { Plate } from "../part/plate.js";
import { Stripe } from "../part/stripe.js";
import { momentWords } from "../lib/format.js";

const MOST = 100;

function says(entry) {
  const b = entry.body;
  const about = b.checkpoint ?? b.task ?? b.what ?? b.adjuster ?? b.step ?? b.text ?? b.name ?? "";
  const value = b.value !== undefined ? `${b.value} ${b.unit}` : b.look ?? b.outcome ?? (b.hours !== undefined ? `${b.hours} h` : b.is ?? "");
  return [about, value].filter(Boolean).join(" ");
}

const Entry = ({ row }) => html`<li class=${"phone-entry"}><${Stripe} state=${row.state === "noted" ? "refused" : row.state} />
  <span><strong>${row.entry.kind}</strong> ${says(row.entry)} <span class="says">${[row.entry.machine, momentWords(row.entry.at), row.received ? t("phone.received", { at: momentWords(row.received) }) : ""].filter(Boolean).join(" \u00b7 ")}</span>
    ${row.state === "refused" ? html`<span class="phone-why">${row.what}${row.right ? html`; ${row.right}` : ""}. ${t("phone.refused.do")} <button type="button" class="button small" onClick=${() => store().then((s) => s?.settle([{ id: row.id, state: "noted", what: row.what, right: row.right }]))}>${t("phone.noted")}</button> <button type="button" class="button small" onClick=${() => store().then((s) => s?.settle([{ id: row.id, state: "phone" }])).then(sendNow)}>${t("phone.again")}</button></span>` : null}</span></li>`;

function Clock({ ms }) {
  const minutes = Math.round(Math.abs(ms ?? 0) / 60000);
  return minutes ? html`<p class="phone-clock" role="status">${t(ms > 0 ? "phone.clock_fast" : "phone.clock_slow", { minutes })}</p>` : null;
}

function Kept() {
  const [list, setList] = useState([]);
  const [sites, setSites] = useState([]);
  const [going, setGoing] = useState(null);
  const [failed, setFailed] = useState(false);
  const look = useCallback(() => keptMachines().then(setList), []);
  useEffect(() => {
    look();
    ask(["machines"]).then((all) => setSites([...new Set((Array.isArray(all) ? all : all.machines).map((m) => m.site).filter(Boolean))].sort()), () => {});
  }, []);
  useEvent("change", look, keeping);
  const keep = async (site) => {
    setFailed(false);
    setGoing({ site, done: 0, of: 0 });
    try {
      await keepSite(site, (done, of) => setGoing({ site, done, of }));
    } catch {
      setFailed(true);
    }
    setGoing(null);
  };
  return html`<section class="sheet"><h2>${t("phone.kept")}</h2>
    ${list.length ? html`<ul class="walk-list">${list.map((m) => html`<li class="walk-line"><${Plate} name=${m.name} link /><span>${m.site} <span class="says">${m.refreshed ? t("phone.kept.as_of", { at: momentWords(m.refreshed) }) : ""}</span></span><button type="button" class="button small" onClick=${() => letGo(m.machine)}>${t("phone.kept.let_go")}<span class="unseen"> ${m.name}</span></button></li>`)}</ul>` : html`<p class="empty">${t("phone.kept.none")}</p>`}
    ${failed ? html`<p class="trouble" role="alert">${t("phone.keep.failed")}</p>` : null}
    <p class="go walk-inset">${sites.map((site) => html`<button type="button" class="button" disabled=${going !== null} onClick=${() => keep(site)}>${t("phone.keep_site", { site })}${going?.site === site && going.of ? ` ${t("phone.keep.going", going)}` : ""}</button>`)}</p></section>`;
}

export default function Phone() {
  const stand = useStanding();
  const { ready, why } = useKeeping();
  const [rows, setRows] = useState([]);
  const [writer, setWriter] = useState("");
  useTitle(t("phone.title"));
  const look = useCallback(async () => {
    const s = await store();
    setRows(s ? (await s.entries()).reverse().sort((a, b) => (a.state === "refused" ? 0 : a.state === "phone" ? 1 : 2) - (b.state === "refused" ? 0 : b.state === "phone" ? 1 : 2)).slice(0, MOST) : []);
    setWriter(s ? await s.writer().catch(() => "") : "");
  }, []);
  useEffect(() => { look(); }, []);
  useEvent("change", look, changes);
  return html`<div class="lead"><h1>${t("phone.title")}</h1><p><${EntriesState} stand=${stand} /></p></div>
    <section class="sheet"><h2>${t("phone.entries")}</h2>
      ${stand && ["away", "login", "sending"].includes(stand.state) && stand.phone ? html`<p class="walk-inset" role="status">${t(`phone.state.${stand.state}`)}</p>` : null}
      ${stand?.others?.length && stand.phone ? html`<p class="walk-inset" role="status">${t("phone.waits_for", { who: stand.others.join(", ") })}</p>` : null}
      <${Clock} ms=${stand?.clock_ms} />
      ${rows.length ? html`<ul class="walk-list">${rows.map((row) => html`<${Entry} key=${row.id} row=${row} />`)}</ul>` : html`<p class="empty">${t("phone.all_safe")}</p>`}
      ${stand?.phone ? html`<p class="go walk-inset"><button type="button" class="button main" onClick=${() => sendNow()}>${t("phone.send")}</button></p>` : null}
      ${writer ? html`<p class="says walk-inset phone-key">${t("phone.writer", { key: writer.slice(0, 16) })}</p>` : null}</section>
    <section class="sheet"><h2>${t("phone.offline")}</h2>${ready && !why.length ? html`<p class="walk-inset">${t("phone.ready")}</p>` : html`<p class="walk-inset"><strong>${ready ? t("phone.ready") : t("offline.no")}</strong></p>${why.map((w) => html`<p class="walk-inset">${t(`offline.why.${w}`)}</p>`)}`}</section>
    ${ready ? html`<${Kept} />` : null}`;
}
