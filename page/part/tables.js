// The same list as a table for a spreadsheet, and what is due as a calendar to subscribe to.
import { html } from "../lib/ui.js";
import { address } from "../lib/api.js";
import { t } from "../lib/words.js";

/** parts, query: of the API's address of the list; feed: also the calendar feed; who: the session, whose token the feed needs where
 *  one signs in. */
export const Tables = ({ parts, query = {}, feed = false, who = null }) => html`<p class="tables-line"><a href=${address([...parts.slice(0, -1), `${parts.at(-1)}.csv`], query)} download>${t("table.csv")}</a>${feed ? html` <a href=${address(["calendar.ics"], who?.calendar ? { token: who.calendar } : {})}>${t("table.feed")}</a>` : null}</p>`;
