// Finding a fault's cause, as a phone's own flow: say what it does, tick what is seen; causes as a ladder of bars; one next step,
// its caution before it, what it costs in minutes, what it would tell. The core on the phone reckons, so it goes on without a
// network; what is noted are entries of kind trace.
import { classes, go, html, useAsk, useEffect, useMemo, useRef, useState, useTitle } from "../lib/ui.js";
import { loadCore } from "../lib/core.mjs";
import { dayWords, quantity } from "../lib/format.js";
import { record } from "../lib/record.js";
import { keepNoted, notedHere, phrasesOf, questionOf, statesOf, ticksOf, evidenceAfter } from "../lib/trace.js";
import { hasWord, t } from "../lib/words.js";
import { Cautions } from "../part/caution.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Answer, Trouble } from "../part/trouble.js";

let loading = null;

/** The core, or null until it is here. */
function useCore() {
  const [core, set] = useState(null);
  const [error, fail] = useState(null);
  useEffect(() => {
    loading ??= loadCore(fetch("core.wasm"));
    loading.then(set, (e) => {
      loading = null;
      fail(e);
    });
  }, []);
  return { core, error };
}

const percent = (p) => `${(100 * p).toFixed(p < 0.095 && p > 0 ? 1 : 0)} %`;
const minutes = (m) => t("trace.minutes", { minutes: m < 1.95 ? Math.round(m * 10) / 10 : Math.round(m) });
const traceAddress = (name, symptom) => machineAddress(name, "trace", symptom);

// ---- which symptom ----

function Choose({ book, core, name }) {
  const [said, say] = useState("");
  const found = useMemo(() => (core && said.trim() ? core.find(said, phrasesOf(book.symptoms)) : null), [core, said, book]);
  const best = found?.things.slice(0, 5).map((one) => book.symptoms.find((s) => s.symptom === one.name)).filter(Boolean);
  const open = book.symptoms.filter((s) => s.started);
  const submit = (event) => {
    event.preventDefault();
    if (best?.length) {
      go(traceAddress(name, best[0].symptom));
    }
  };
  const Row = ({ s, more = "" }) => html`<li><a class="line" href=${traceAddress(name, s.symptom)}><strong>${s.label}</strong><span class="says">${more || s.says.slice(0, 4).join(", ")}</span></a></li>`;
  return html`${open.length ? html`<section class="sheet"><h2>${t("trace.open")}</h2><ul class="lines">${open.map((s) => html`<${Row} s=${s} more=${t("trace.since", { day: dayWords(s.since.slice(0, 10)) })} />`)}</ul></section>` : null}
    <section class="sheet say"><form onSubmit=${submit}><label for="said"><h2>${t("trace.say")}</h2></label>
      <input id="said" type="text" autocomplete="off" enterkeyhint="go" placeholder=${t("trace.say_example")} value=${said} onInput=${(e) => say(e.target.value)} /></form>
      ${best ? html`<ul class="lines" aria-live="polite">${best.length ? best.map((s) => html`<${Row} s=${s} />`) : html`<li class="empty">${t("trace.no_match")}</li>`}</ul>` : null}</section>
    <section class="sheet"><h2>${t("trace.all")}</h2><ul class="lines">${book.symptoms.map((s) => html`<${Row} s=${s} />`)}</ul></section>`;
}

// ---- the ladder ----

const Facts = ({ cause }) => html`<ul class="facts"><li>${t("trace.prior", { weight: cause.weight, confirmed: cause.confirmed })}</li>
  ${cause.facts.map((f) => html`<li>${quantity(f.says)}: ${t("trace.times", { factor: f.factor.toFixed(f.factor < 10 ? 1 : 0) })}${f.source ? html` <span class="source">${f.source}</span>` : null}</li>`)}
  ${cause.note ? html`<li>${cause.note}</li>` : null}</ul>`;

function Rung({ label, p, children = null }) {
  const width = Math.max(0.4, 100 * p);
  const bar = html`<svg class="rung-bar" viewBox="0 0 100 6" preserveAspectRatio="none" aria-hidden="true"><rect class="ground" width="100" height="6" /><rect class="fill" width=${width} height="6" /></svg>`;
  const head = html`<span class="rung-p">${percent(p)}</span><span class="rung-label">${label}</span>${bar}`;
  return html`<li>${children ? html`<details><summary>${head}</summary>${children}</details>` : html`<p class="summary">${head}</p>`}</li>`;
}

function Ladder({ name, symptom, now }) {
  const [whole, show] = useState(false);
  const causes = now.causes.map((c) => ({ ...symptom.causes.find((k) => k.name === c.name), p: c.p }));
  const shown = whole ? causes : causes.filter((c, i) => i < 3 || (i < 6 && c.p >= 0.03));
  return html`<section class="sheet ladder" aria-labelledby="ladder"><h2 id="ladder">${t("trace.ladder")}</h2><ol>
    ${shown.map((c) => html`<${Rung} key=${c.name} label=${c.label} p=${c.p}><${Facts} cause=${c} />
      <a class="why-link" href=${machineAddress(name, "trace", symptom.symptom, "why", c.name)}>${t("why")}<span class="unseen"> ${c.label}</span></a><//>`)}
    <${Rung} label=${t("trace.other")} p=${now.other} /></ol>
    ${now.plans_two ? html`<p class="note-line">${t("trace.two", { p: percent(now.two) })}</p>` : null}
    ${shown.length < causes.length ? html`<button type="button" onClick=${() => show(true)}>${t("trace.more", { n: causes.length - shown.length })}</button>` : null}</section>`;
}

// ---- the next step ----

const Then = ({ head, list, causes }) => html`<p class="then"><strong>${head}</strong> <span>${list.filter((c, i) => i < 2 || c.p > 0.1).map((c) => `${causes.find((k) => k.name === c.name)?.label} ${percent(c.p)}`).join(", ")}</span></p>`;

function Next({ name, symptom, items, now, note, busy }) {
  const step = now.steps[0];
  const item = step.what === "help" ? items.help : items[step.name];
  if (!item) {
    return null;
  }
  const cure = step.what === "repair";
  const tell = cure ? html`<${Then} head=${t("trace.if_still")} list=${step.if_no ?? []} causes=${symptom.causes} />`
    : html`<${Then} head=${t("trace.if_yes", { p: percent(step.p_yes) })} list=${step.if_yes ?? []} causes=${symptom.causes} /><${Then} head=${t("trace.if_no")} list=${step.if_no ?? []} causes=${symptom.causes} />`;
  const button = (look, label, entry) => html`<button type="button" class=${look} disabled=${busy} onClick=${() => note(entry)}>${label}</button>`;
  return html`<section class="sheet next" aria-labelledby="next"><h2 id="next">${t("trace.next")}</h2>
    <${Cautions} list=${item.cautions} />
    <p class="over"><span>${hasWord(`trace.kind.${item.kind.replaceAll(" ", "_")}`) ? t(`trace.kind.${item.kind.replaceAll(" ", "_")}`) : item.kind}</span><span>${[item.at, minutes(item.work_minutes)].filter(Boolean).join(" \u00b7 ")}</span></p>
    <h3>${quantity(item.do)}</h3>
    ${item.needs ? html`<p class="needs"><span>${t("trace.condition")} </span>${item.needs}</p>` : null}
    ${item.tools.length ? html`<p class="needs"><span>${t("round.tools")} </span>${quantity(item.tools.join(", "))}</p>` : null}
    ${item.note ? html`<p class="says">${quantity(item.note)}</p>` : null}
    ${item.adjuster ? html`<p><a class="button" href=${machineAddress(name, "adjust", item.name)}>${t("trace.count_turns")}</a></p>` : null}
    ${item.minutes > item.work_minutes + 0.5 ? html`<p class="says">${t("trace.worth", { minutes: Math.round(item.minutes) })}</p>` : null}
    ${step.what === "help" ? null : html`${cure ? html`<p class="then"><strong>${t("trace.cures", { p: percent(step.p_yes) })}</strong></p>` : null}${tell}`}
    <div class="answers">${step.what === "help" ? null : cure
    ? html`${button("main", t("trace.cured"), { step: "done", what: item.name, result: "cured" })}${button("", t("trace.still"), { step: "done", what: item.name, result: "not-cured" })}`
    : html`${button("", item.yes ? t("trace.yes_it", { what: item.yes }) : t("trace.yes"), { step: item.sort === "symptom" ? "seen" : "done", what: item.name, ...(item.sort === "symptom" ? {} : { result: "yes" }) })}
      ${button("", item.no ? t("trace.no_it", { what: item.no }) : t("trace.no"), { step: item.sort === "symptom" ? "not-seen" : "done", what: item.name, ...(item.sort === "symptom" ? {} : { result: "no" }) })}`}
      ${step.what === "help" ? null : button("quiet", t("trace.cannot"), { step: "cannot", what: item.name })}</div>
    <details class="reckoning"><summary>${t("trace.why_step", { minutes: Math.round(now.high) })}</summary>
      <p>${now.exact ? t("trace.exact") : t("trace.bound", { minutes: Math.round(now.low) })}</p>
      <ul>${now.steps.slice(1, 4).map((s) => html`<li>${t("trace.first", { what: (items[s.name] ?? items.help)?.label ?? s.name, minutes: Math.round(s.high) })}</li>`)}
      ${now.straight > now.high + 0.5 ? html`<li>${t("trace.straight", { minutes: Math.round(now.straight) })}</li>` : null}</ul></details></section>`;
}

// ---- what is known, and the end ----

function Ticks({ list, note, busy }) {
  const [whole, show] = useState(false);
  const shown = whole ? list : list.slice(0, 5);
  return list.length ? html`<section class="sheet ticks" aria-labelledby="ticks"><h2 id="ticks">${t("trace.ticks")}</h2><ul>${shown.map((item) => html`<li key=${item.name}><span>${item.label}</span>
    <button type="button" disabled=${busy} aria-label=${t("trace.seen_it", { what: item.label })} onClick=${() => note({ step: "seen", what: item.name })}>${t("trace.seen")}</button>
    <button type="button" disabled=${busy} aria-label=${t("trace.not_seen_it", { what: item.label })} onClick=${() => note({ step: "not-seen", what: item.name })}>${t("trace.not_seen")}</button></li>`)}</ul>
    ${shown.length < list.length ? html`<button type="button" onClick=${() => show(true)}>${t("trace.more", { n: list.length - shown.length })}</button>` : null}</section>` : null;
}

const Known = ({ symptom, items, states }) => html`<section class="sheet known" aria-labelledby="known"><h2 id="known">${t("trace.known")}</h2><ul class="lines">${Object.entries(states).map(([name, state]) => {
  const item = items[name];
  const word = item?.sort === "cure" && state !== "cannot" ? (state === "yes" ? "trace.was_cured" : "trace.was_still") : `trace.was_${state}`;
  return html`<li class="line" key=${name}><strong>${item?.label ?? name}</strong><span class="says">${t(word)}</span></li>`;
})}</ul></section>`;

function End({ symptom, now, note, busy, cured }) {
  const [cause, choose] = useState("");
  const picked = cause || (cured ? now.causes[0]?.name : "");
  const chosen = symptom.causes.find((c) => c.name === picked);
  const end = (event) => {
    event.preventDefault();
    note({ step: "ended", ...(chosen ? { cause: chosen.name, confirmed: true, ...Object.fromEntries(["mode", "mechanism", "root"].filter((k) => chosen[k]).map((k) => [k, chosen[k]])) } : {}) });
  };
  return html`<section class=${classes("sheet", "end", cured && "cured")} aria-labelledby="end"><h2 id="end">${t(cured ? "trace.right_again" : "trace.end")}</h2><form onSubmit=${end}>
    <label for="cause">${t("trace.cause")}</label><select id="cause" value=${picked} onChange=${(e) => choose(e.target.value)}><option value="">${t("trace.no_cause")}</option>
    ${now.causes.map((c) => html`<option value=${c.name}>${symptom.causes.find((k) => k.name === c.name)?.label}</option>`)}</select>
    ${chosen?.mode ? html`<p class="says">${t("trace.iso", { words: [chosen.mode, chosen.mechanism, chosen.root].filter(Boolean).join("; ") })}</p>` : null}
    <button type="submit" class=${cured ? "main" : ""} disabled=${busy}>${chosen ? t("trace.end_with") : t("trace.give_up")}</button></form></section>`;
}

// ---- the flow ----

function Flow({ book, core, symptom, name, again }) {
  const [turn, setTurn] = useState(0);
  const [busy, setBusy] = useState(false);
  const [error, fail] = useState(null);
  const items = useMemo(() => Object.fromEntries(book.items.map((item) => [item.name, item])), [book]);
  const noted = useMemo(() => notedHere(book.machine, symptom), [book, symptom, turn]);
  const reckoned = useMemo(() => {
    try {
      return { now: core.trace(questionOf(symptom, noted, items)) };
    } catch (e) {
      return { error: Object.assign(new Error(e.what ?? e.message), { right: e.right ?? "" }) };
    }
  }, [core, symptom, noted, items]);
  const states = statesOf(evidenceAfter(symptom.evidence, noted, items));
  const chain = symptom.trace ?? noted.find((one) => one.step === "started")?.entry ?? null;

  async function write(body) {
    const answer = await record({ machine: name, kind: "trace", body });
    const entry = typeof answer.entry === "string" ? answer.entry : answer.entry?.id ?? answer.id;
    keepNoted({ machine: book.machine, symptom: symptom.symptom, entry, trace: body.trace ?? entry, step: body.step, what: body.what ?? "", result: body.result ?? "" });
    return entry;
  }

  async function note(body) {
    setBusy(true);
    fail(null);
    try {
      const trace = chain ?? (await write({ step: "started", symptom: symptom.symptom }));
      await write({ ...body, trace });
      setTurn((n) => n + 1);
      if (body.step === "ended") {
        go(machineAddress(name, "trace"));
      } else {
        again();
      }
    } catch (e) {
      fail(e);
    }
    setBusy(false);
  }

  if (reckoned.error) {
    return html`<${Trouble} error=${reckoned.error} /><${Known} symptom=${symptom} items=${items} states=${states} />`;
  }
  const now = reckoned.now;
  const cured = now.steps.length === 0;
  return html`${error ? html`<${Trouble} error=${error} />` : null}
    ${cured ? html`<${End} symptom=${symptom} now=${now} note=${note} busy=${busy} cured />` : html`<${Next} name=${name} symptom=${symptom} items=${items} now=${now} note=${note} busy=${busy} />`}
    <${Ladder} name=${name} symptom=${symptom} now=${now} />
    ${cured ? null : html`<${Ticks} list=${ticksOf(symptom, items, states, now.causes)} note=${note} busy=${busy} />`}
    <${Known} symptom=${symptom} items=${items} states=${states} />
    ${cured ? null : html`<${End} symptom=${symptom} now=${now} note=${note} busy=${busy} />`}
    <p class="says">${t("trace.manual_first")}</p>`;
}

export default function Trace({ params }) {
  const answer = useAsk(["machines", params.name, "trace"]);
  const { core, error } = useCore();
  const last = useRef(null); // without a network the answer that was here goes on
  last.current = answer.data ?? (last.current?.name === params.name || last.current?.machine === params.name ? last.current : null);
  const book = last.current;
  const symptom = book?.symptoms.find((s) => s.symptom === params.symptom);
  const title = symptom ? symptom.label : t("trace.title");
  useTitle(book ? `${params.name}, ${title}` : null);
  if (error) {
    return html`<h1>${t("not_shown")}</h1><${Trouble} error=${error} />`;
  }
  return html`<${Answer} whole of=${{ error: book ? null : answer.error, data: book && core ? book : null }}>${() => html`
    <div class="lead"><${Plate} name=${book.name} large link /><h1>${title}</h1>${params.symptom ? html`<p><a href=${machineAddress(params.name, "trace")}>${t("trace.another")}</a></p>` : null}</div>
    ${params.symptom && !symptom ? html`<${Trouble} error=${Object.assign(new Error(t("trace.no_symptom")), { right: t("trace.say") })} />` : null}
    ${symptom ? html`<${Flow} key=${symptom.symptom} book=${book} core=${core} symptom=${symptom} name=${params.name} again=${answer.again} />` : html`<${Choose} book=${book} core=${core} name=${params.name} />`}`}<//>`;
}
