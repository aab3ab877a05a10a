// The log: every entry, who, when, with its stripe; narrowed down, corrected, attached to, exported, proved.
import { PHONE, html, go, to, useAsk, useEffect, useMedia, useMemo, useState, useTitle } from "../lib/ui.js";
import { address, ask, may } from "../lib/api.js";
import { number } from "../lib/format.js";
import { t, word } from "../lib/words.js";
import { Entry, withPhotos } from "../part/entry.js";
import { Tables } from "../part/tables.js";
import { Trouble, Waiting } from "../part/trouble.js";

const PAGE = 60;
const KINDS = ["reading", "found", "done", "turn", "meter", "meter-replaced", "fault-seen", "fault-cleared", "opened", "put-back", "burn", "stock", "note", "attachment", "calendar", "machine-in", "machine-out", "correction"];
const VIEWS = ["effective", "recorded", "withdrawn"];

/** Entries page by page under one filter; begins anew when the filter changes or something is recorded. */
function useLog(filter) {
  const first = useAsk(["log"], { ...filter, limit: PAGE });
  const [more, setMore] = useState({ of: null, entries: [], next: null, error: null, busy: false });
  useEffect(() => {
    if (first.data) {
      setMore({ of: first.data, entries: [], next: first.data.next, error: null, busy: false });
    }
  }, [first.data]);
  const load = async () => {
    setMore({ ...more, busy: true });
    try {
      const page = await ask(["log"], { ...filter, limit: PAGE, before: more.next });
      setMore({ ...more, entries: [...more.entries, ...page.entries], next: page.next, busy: false });
    } catch (error) {
      setMore({ ...more, error, busy: false });
    }
  };
  const data = first.data ?? first.old;
  return { error: first.error ?? more.error, entries: data ? [...data.entries, ...(more.of === data ? more.entries : [])] : null, next: more.of === data ? more.next : data?.next, busy: more.busy, load };
}

/** The proof: asked for, then said in a line, and each finding. */
function Proof() {
  const [state, setState] = useState(null);
  const run = () => {
    setState("busy");
    ask(["verify"]).then(setState, (error) => setState({ error }));
  };
  return html`<button type="button" class="button" onClick=${run} disabled=${state === "busy"}>${t("log.verify")}</button>
    <div class="proof" role="status">${state === "busy" ? t("waiting") : state?.error ? html`<${Trouble} error=${state.error} />` : state ? html`<p><strong>${state.errors ? t("log.broken", { n: state.errors }) : t("log.holds", { n: number(state.entries) })}</strong></p><ul>${state.findings.map((f) => html`<li>${f.what}</li>`)}</ul>` : null}</div>`;
}

export default function Log({ query, who }) {
  useTitle(t("log.title"));
  const filter = { machine: query.machine, kind: query.kind, since: query.since, until: query.until ? `${query.until} 23:59` : null, view: query.view };
  const log = useLog(filter);
  const machines = useAsk(["machines"]);
  const [text, setText] = useState("");
  const set = (name, value) => go(to(["log"], { ...query, [name]: value }), true);
  const names = useMemo(() => new Map((machines.data ?? []).map((m) => [m.serial, m.name])), [machines.data]);
  const phone = useMedia(PHONE);
  const narrowed = ["machine", "kind", "since", "until", "view"].some((name) => query[name]);
  const wanted = text.trim().toLowerCase();
  const shown = (log.entries ?? []).filter((e) => !wanted || `${e.says} ${e.by} ${e.id} ${names.get(e.machine) ?? ""}`.toLowerCase().includes(wanted));
  const rows = withPhotos(shown);
  return html`<div class="lead"><h1>${t("log.title")}</h1><p>${t("log.says")}</p><${Tables} parts=${["log"]} query=${{ machine: query.machine, kind: query.kind, since: query.since }} /></div>
    <details class="narrow" open=${!phone || narrowed}><summary>${t("horizon.narrow")}</summary><div class="log-filters">
      <label class="field"><span>${t("log.machine")}</span><select value=${query.machine ?? ""} onChange=${(e) => set("machine", e.target.value)}><option value="">${t("all")}</option>${(machines.data ?? []).map((m) => html`<option value=${m.name}>${m.name}</option>`)}</select></label>
      <label class="field"><span>${t("entry.kind")}</span><select value=${query.kind ?? ""} onChange=${(e) => set("kind", e.target.value)}><option value="">${t("all")}</option>${KINDS.map((k) => html`<option value=${k}>${word("entry_kind", k)}</option>`)}</select></label>
      <label class="field"><span>${t("log.since")}</span><input type="date" value=${query.since ?? ""} onChange=${(e) => set("since", e.target.value)} /></label>
      <label class="field"><span>${t("log.until")}</span><input type="date" value=${query.until ?? ""} onChange=${(e) => set("until", e.target.value)} /></label>
      <label class="field"><span>${t("log.view")}</span><select value=${query.view ?? "effective"} onChange=${(e) => set("view", e.target.value)}>${VIEWS.map((v) => html`<option value=${v}>${t(`log.view.${v}`)}</option>`)}</select></label>
      <label class="field"><span>${t("log.find")}</span><input type="search" value=${text} onInput=${(e) => setText(e.target.value)} /></label></div></details>
    <div class="go">${may(who, "record") ? html`<a class="button main" href="#/record">${t("log.record")}</a>` : null}<a class="button" href=${address(["export"], { machine: query.machine })} download="witmark.ndjson">${t("log.export")}</a><${Proof} /></div>
    ${log.error ? html`<${Trouble} error=${log.error} />` : null}
    ${log.entries ? html`<section class="sheet log" aria-label=${t("log.entries")}>${rows.length ? html`<ol class="entries">${rows.map(({ e, photos }) => html`<${Entry} key=${e.id} e=${{ ...e, name: names.get(e.machine) }} photos=${photos} plate acts=${may(who, "record")} />`)}</ol>` : html`<p class="empty">${t("log.none")}</p>`}
      ${log.next ? html`<p class="go inside"><button type="button" class="button" onClick=${log.load} disabled=${log.busy}>${t("log.older")}</button></p>` : null}</section>` : log.error ? null : html`<${Waiting} />`}`;
}
