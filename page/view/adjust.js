// Adjusters of one machine: all of them, or one with its dial: the turns made since it was found, the next step, the way back. Worked
// with gloves and without a network: the core says here what may be turned, the entries go out when they can.
import { classes, html, to, useAsk, useEffect, useState, useTitle } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { TURN, adjustQuestion, allTurns, dialAngle, dialArc, dialPoint, turnBody, turnsFigure } from "../lib/adjust.js";
import { share, timeLocal } from "../lib/format.js";
import { useHere } from "../lib/here.js";
import { record } from "../lib/record.js";
import { t, word } from "../lib/words.js";
import { Cautions } from "../part/caution.js";
import { Plate, machineAddress } from "../part/plate.js";
import { Answer, Trouble, Waiting } from "../part/trouble.js";

const STEP = TURN / 8; // the least that the buttons count

/** "1½ turns in", "as it was" */
const turnsWords = (count) => (count === 0 ? t("adjust.as_it_was") : t(count > 0 ? "adjust.in" : "adjust.out", { turns: turnsFigure(count), n: Math.abs(count) > TURN ? 2 : 1 }));
const fromAccepted = (count) => (count === 0 ? t("adjust.at_accepted") : t("adjust.from_accepted", { turns: turnsWords(count) }));

// ---- the dial ----

function Dial({ adjuster, now, ask }) {
  const most = adjuster.rules.at_most.count;
  const at = dialAngle(now.from_found.count, most);
  const accepted = dialAngle(now.from_found.count - now.from_accepted.count, most);
  const next = ask ? dialAngle(now.from_found.count + ask, most) : at;
  const ticks = [];
  for (let count = -most; count <= most; count += TURN / 2) {
    const whole = count % TURN === 0;
    const [x0, y0] = dialPoint(dialAngle(count, most), whole ? 80 : 84);
    const [x1, y1] = dialPoint(dialAngle(count, most), 90);
    ticks.push(html`<path class=${classes("dial-tick", whole && "whole")} d=${`M${x0} ${y0}L${x1} ${y1}`} />`);
  }
  const bracket = (side) => {
    const a = 150 * side;
    const [x0, y0] = dialPoint(a - 4 * side, 76);
    const [x1, y1] = dialPoint(a, 76);
    const [x2, y2] = dialPoint(a, 95);
    const [x3, y3] = dialPoint(a - 4 * side, 95);
    return html`<path class="dial-bracket" d=${`M${x0} ${y0}L${x1} ${y1}L${x2} ${y2}L${x3} ${y3}`} />`;
  };
  const [px, py] = dialPoint(at, 72);
  const [sx0, sy0] = dialPoint(accepted, 70);
  const [sx1, sy1] = dialPoint(accepted, 96);
  const says = t("adjust.dial", { found: turnsWords(now.from_found.count), accepted: fromAccepted(now.from_accepted.count), most: turnsFigure(most) });
  return html`<svg class="dial" viewBox="0 0 200 200" role="img" aria-label=${says}>
    ${ticks}${bracket(-1)}${bracket(1)}
    ${Math.abs(at - accepted) > 0.5 ? html`<path class="dial-trial" d=${dialArc(accepted, at, 87)} />` : null}
    ${Math.abs(next - at) > 0.5 ? html`<path class="dial-next" d=${dialArc(at, next, 98)} />` : null}
    <path class="dial-accepted" d=${`M${sx0} ${sy0}L${sx1} ${sy1}`} />
    <path class="dial-hand" d=${`M100 100L${px} ${py}`} /><circle class="dial-hub" cx="100" cy="100" r="38" />
    <text class="dial-figure" x="100" y="106">${turnsFigure(now.from_found.count)}</text>
    <text class="dial-word" x="100" y="122">${now.from_found.count === 0 ? t("adjust.dial.found") : now.from_found.count > 0 ? t("adjust.dial.in") : t("adjust.dial.out")}</text>
    <text class="dial-side" x="34" y="192">${t("adjust.dial.out")}</text><text class="dial-side" x="166" y="192">${t("adjust.dial.in")}</text></svg>`;
}

// ---- what may be done ----

function Confirm({ adjuster, ticked, onTick }) {
  return adjuster.confirm?.length ? html`<fieldset class="confirm"><legend>${t("adjust.confirm")}</legend>
    ${adjuster.confirm.map((c) => html`<label class="confirm-line"><input type="checkbox" checked=${ticked.includes(c.name)} onChange=${(e) => onTick(c.name, e.target.checked)} /><span>${c.text}</span></label>`)}</fieldset>` : null;
}

/** The count that is asked for, in eighths of a turn. */
function Counter({ count, onCount }) {
  const more = (by) => () => onCount(count + by);
  return html`<div class="counter" role="group" aria-label=${t("adjust.count")}>
    <button type="button" class="button" onClick=${more(-STEP)} aria-label=${t("adjust.eighth_out")}>−</button>
    <output>${turnsWords(count)}</output>
    <button type="button" class="button" onClick=${more(STEP)} aria-label=${t("adjust.eighth_in")}>+</button></div>`;
}

const refusalWords = (refusal) => (refusal ? word("adjust.refusal", refusal.word) : "");

function nextWords(next) {
  const turns = next.turns.count ? turnsWords(next.turns.count) : "";
  const what = t(`adjust.advice.${next.advice}`, { turns });
  const because = next.reason === "the next step" ? "" : word("adjust.because", next.reason);
  return [what, because].filter(Boolean).join(": ");
}

function Turns({ list }) {
  return list.length ? html`<section class="sheet history" aria-labelledby="ledger-title"><h2 id="ledger-title">${t("adjust.ledger")}</h2>
    <ol>${[...list].reverse().map((x) => html`<li><span class="when">${timeLocal(x.at?.replace("T", " "))}</span>
      <span><strong>${x.found ? t("adjust.counted_from_here") : x.count ? turnsWords(x.count) : t("adjust.looked")}</strong>${x.saw === "not said" ? "" : `, ${t(`adjust.saw.${x.saw}`)}`}${x.accepted ? `, ${t("adjust.accepted")}` : ""}${x.here ? ` (${t("adjust.on_phone")})` : ""}${x.note ? html`<span class="says">${x.note}</span>` : null}</span>
      <span class="by">${x.by}</span></li>`)}</ol></section>` : null;
}

const SAWS = ["gone", "less", "same", "worse"];

function Work({ machine, serial, adjuster, here }) {
  const turns = allTurns(adjuster, here.entries);
  const [ticked, setTicked] = useState([]);
  const [count, setCount] = useState(null);
  const [busy, setBusy] = useState(false);
  const [error, setError] = useState(null);
  const missing = (adjuster.confirm ?? []).filter((c) => !ticked.includes(c.name));
  const missingWords = missing.map((c) => c.text).join(", ");
  const plain = here.core.adjust(adjustQuestion(adjuster, turns));
  const next = plain.next;
  const asked = count ?? (next.advice === "turn" ? next.turns.count : 0);
  const now = here.core.adjust(adjustQuestion(adjuster, turns, { ask: asked, missing: missingWords }));
  useEffect(() => { setCount(null); setTicked([]); }, [turns.length]);
  const write = async (body, says) => {
    setBusy(true);
    setError(null);
    try {
      await record({ machine: serial, kind: "turn", body, says });
    } catch (e) {
      setError(Object.assign(new Error(e.message), { right: e.right ?? "" }));
    }
    setBusy(false);
  };
  const turn = (by, more = {}) => write(turnBody(adjuster.name, by, { confirmed: ticked, ...more }), `${adjuster.label}: ${turnsWords(by)}`);
  const see = (saw) => write(turnBody(adjuster.name, 0, { saw }), `${adjuster.label}: ${t(`adjust.saw.${saw}`)}`);
  const looking = next.advice === "look";
  const open = now.trial_open;
  return html`<div class="columns even adjust-work"><div>
      <${Dial} adjuster=${adjuster} now=${now} ask=${looking ? 0 : asked} />
      <p class="stands"><strong>${fromAccepted(now.from_accepted.count)}</strong>${now.from_found.count ? html`<span class="says">${t("adjust.from_found", { turns: turnsWords(now.from_found.count) })}</span>` : null}</p>
      ${now.beyond ? html`<p class="trouble">${t("adjust.beyond", { most: turnsFigure(adjuster.rules.at_most.count) })}</p>` : null}
      ${open ? html`<p class="way-back">${t("adjust.way_back", { turns: turnsWords(now.back.count) })}</p>` : null}</div>
    <div class="sheet form">
      <h2>${open || now.steps ? t("adjust.next") : t("adjust.if_settled")}</h2>
      <p class="next">${nextWords(next)}</p>
      <p class="says">${next.advice === "turn" && next.p_helps > 0 ? `${t("adjust.helps", { p: share(next.p_helps) })} ` : ""}${t("adjust.cause", { p: share(next.p_cause) })}</p>
      ${looking ? html`<p class="between">${adjuster.between}</p><p class="watch"><strong>${t("adjust.watch")}</strong> ${adjuster.watch}</p>
        <div class="saws" role="group" aria-label=${t("adjust.what_seen")}>${SAWS.map((s) => html`<button type="button" class="button" disabled=${busy} onClick=${() => see(s)}>${t(`adjust.saw.${s}`)}</button>`)}</div>` : html`
        <${Confirm} adjuster=${adjuster} ticked=${ticked} onTick=${(name, on) => setTicked(on ? [...ticked, name] : ticked.filter((x) => x !== name))} />
        <${Counter} count=${asked} onCount=${setCount} />
        <p class="refused" aria-live="polite">${asked ? refusalWords(now.refusal) : ""}</p>
        <button type="button" class="button main" disabled=${busy || !asked || now.refusal} onClick=${() => turn(asked)}>${t("adjust.turned", { turns: turnsWords(asked) })}</button>`}
      ${open && !looking ? html`<div class="go"><button type="button" class="button" disabled=${busy || plain.saw === "not said"} onClick=${() => write(turnBody(adjuster.name, 0, { accepted: true }), `${adjuster.label}: ${t("adjust.accepted")}`)}>${t("adjust.accept")}</button>
        <button type="button" class="button" disabled=${busy || missing.length > 0} onClick=${() => turn(now.back.count, { accepted: true })}>${t("adjust.turn_back", { turns: turnsWords(now.back.count) })}</button>
        ${now.undo.count ? html`<button type="button" class="button" disabled=${busy || missing.length > 0} onClick=${() => turn(now.undo.count)}>${t("adjust.undo", { turns: turnsWords(now.undo.count) })}</button>` : null}</div>
        ${missing.length ? html`<p class="says">${t("adjust.confirm_back")}</p>` : null}` : null}
      ${error ? html`<${Trouble} error=${error} />` : null}</div></div>
    <${Turns} list=${turns} />`;
}

function One({ machine, adjuster }) {
  const here = useHere(adjuster.serial);
  return html`<div class="lead"><${Plate} name=${machine} large /><h1>${adjuster.label}</h1><p>${adjuster.place ?? ""}</p></div>
    <${Cautions} list=${adjuster.cautions} />
    <p class="says">${[adjuster.needs, ...(adjuster.first ?? [])].filter(Boolean).join("; ")}</p>
    ${adjuster.other_open ? html`<p class="trouble">${t("adjust.other_open", { other: adjuster.other_open })}</p>` : null}
    ${!here ? html`<${Waiting} />` : !here.core ? html`<${Trouble} error=${new Error(t("adjust.no_core"))} />` : html`<${Work} machine=${machine} serial=${adjuster.serial} adjuster=${adjuster} here=${here} />`}
    <p class="go"><a class="button" href=${to(["m", machine, "adjust"])}>${t("adjust.all")}</a>
      <a class="button" href=${address(["machines", machine, "adjusters", adjuster.name, "sheet.pdf"])}>${t("adjust.paper")}</a>
      <a class="button" href=${to(["m", machine, "putback"])}>${t("putback.title")}</a></p>`;
}

const List = ({ machine, list }) => html`<div class="lead"><${Plate} name=${machine} large /><h1>${t("adjust.title")}</h1></div>
  <section class="sheet"><ul class="lines">${list.map((a) => html`<li><a class="line" href=${to(["m", machine, "adjust", a.name])}><span class=${classes("what", a.trial_open && "open")}><strong>${a.label}</strong>
    <span class="says">${a.turns.length ? `${fromAccepted(a.from_accepted.count)}${a.from_found.count ? `; ${t("adjust.from_found", { turns: turnsWords(a.from_found.count) })}` : ""}` : t("adjust.never")}</span></span>
    ${a.trial_open ? html`<strong>${t("adjust.trial")}</strong>` : null}</a></li>`)}</ul>${list.length ? null : html`<p class="empty">${t("adjust.none")}</p>`}</section>
  <p class="go"><a class="button" href=${machineAddress(machine)}>${t("adjust.machine", { name: machine })}</a></p>`;

export default function Adjust({ params }) {
  const answer = useAsk(["machines", params.name, "adjusters"]);
  const one = (list) => list.find((a) => a.name === params.adjuster);
  useTitle(`${params.name} ${(answer.data && params.adjuster && one(answer.data)?.label) || t("adjust.title")}`);
  return html`<${Answer} whole of=${{ ...answer, data: answer.data ?? answer.old }}>${(list) => {
    const adjuster = params.adjuster && one(list);
    return adjuster && adjuster.in_book ? html`<${One} machine=${params.name} adjuster=${adjuster} />` : html`<${List} machine=${params.name} list=${list} />`;
  }}<//>`;
}
