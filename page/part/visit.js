// Planning: a visit for a machine, and taking an item out of the calendar. Both are entries.
import { html, useState } from "../lib/ui.js";
import { record } from "../lib/record.js";
import { dayNumber, dayText } from "../lib/format.js";
import { markLabel } from "../lib/horizon.js";
import { t } from "../lib/words.js";
import { Trouble } from "./trouble.js";

/** The first working day after today. */
export function nextWorkday(day) {
  const n = dayNumber(day) + 1;
  const weekday = (n + 3) % 7; // Monday is 0
  return dayText(weekday >= 5 ? n + 7 - weekday : n);
}

/** lane: of the horizon; marks: what the visit would be for; day: today. */
export function PlanVisit({ lane, marks, day }) {
  const [error, setError] = useState(null);
  const [said, setSaid] = useState("");
  async function submit(event) {
    event.preventDefault();
    const given = Object.fromEntries(new FormData(event.target));
    const body = { type: "visit", label: given.label, from: given.from, to: given.from, hours: Number(given.hours) };
    try {
      await record({ machine: lane.serial, kind: "calendar", body });
      setError(null);
      setSaid(t("visit.planned"));
    } catch (wrong) {
      setError(wrong);
    }
  }
  return html`<form class="form plan-visit" onSubmit=${submit}><h3>${t("visit.plan")}</h3>
    <label class="field"><span>${t("visit.for")}</span><input name="label" required maxlength="120" value=${marks.slice(0, 2).map(markLabel).join(", ").slice(0, 120)} /></label>
    <div class="pair"><label class="field"><span>${t("visit.day")}</span><input name="from" type="date" required min=${day} value=${nextWorkday(day)} /></label>
    <label class="field"><span>${t("visit.hours")}</span><input name="hours" type="number" required min="0.25" max="200" step="0.25" value="2" /></label></div>
    ${error ? html`<${Trouble} error=${error} />` : null}
    <p class="go"><button type="submit" class="button main">${t("visit.put")}</button><span role="status">${said}</span></p></form>`;
}

/** item: of the calendar. */
export function TakeOut({ item, onDone }) {
  const [error, setError] = useState(null);
  const run = async () => {
    try {
      await record({ machine: item.machine || null, kind: "correction", body: { corrects: item.entry, reason: t("visit.taken_out"), void: true } });
      onDone();
    } catch (wrong) {
      setError(wrong);
    }
  };
  return html`<p class="go"><button type="button" class="button" onClick=${run}>${t("visit.take_out")}</button></p>${error ? html`<${Trouble} error=${error} />` : null}`;
}
