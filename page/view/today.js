// Today: what is out, what is due today, what is to come.
import { html, useAsk, useTitle } from "../lib/ui.js";
import { dayLong } from "../lib/format.js";
import { GROUPS, lines } from "../lib/group.js";
import { t } from "../lib/words.js";
import { DueLines } from "../part/due.js";
import { Tables } from "../part/tables.js";
import { Answer } from "../part/trouble.js";

const SPAN = 30;

function Group({ group, list, day }) {
  const own = list.filter(group.has);
  return html`<section class=${`sheet group ${group.key}`} aria-labelledby=${`group-${group.key}`}>
    <h2 id=${`group-${group.key}`}>${t(`group.${group.key}`)} <span class="count">${lines(own).length}</span>
      ${group.key === "come" ? html`<span class="note">${t("strip.span", { n: SPAN })}</span>` : null}</h2>
    ${own.length ? html`<${DueLines} list=${own} day=${day} span=${SPAN} plates />` : html`<p class="empty">${t(`group.${group.key}.none`, { days: SPAN })}</p>`}</section>`;
}

export default function Today({ who }) {
  const answer = useAsk(["today"], { days: SPAN });
  useTitle(t("today.title"));
  return html`<${Answer} whole of=${answer}>${(list) => html`
    <div class="lead"><h1>${dayLong(list.day)}</h1>
      <p>${t("count.machines", { n: list.machines })}, ${t("today.counts", { out: lines(list.due.filter(GROUPS[0].has)).length, today: lines(list.due.filter(GROUPS[1].has)).length })}</p><${Tables} parts=${["today"]} query=${{ days: SPAN }} feed who=${who} /></div>
    ${GROUPS.map((group) => html`<${Group} group=${group} list=${list.due} day=${list.day} />`)}`}<//>`;
}
