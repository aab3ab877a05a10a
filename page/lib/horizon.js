// The horizon's geometry and words: pure functions over the answer of /api/horizon, for the desk's sheet and the phone's list.
import { dayNear, dayNumber, dayShort, dayText, dayWords, number, quantity, share } from "./format.js";
import { t, word } from "./words.js";

/** Days that a zoom shows, and how its axis is divided. */
export const ZOOMS = { week: 7, month: 30, season: 91, half: 182, year: 366 };

/** Where a day lies between now (0) and the right edge (1); beyond it is beyond. */
export const place = (date, day, days) => (dayNumber(date) - dayNumber(day)) / days;

/** Marks of the axis: [{day, at, label, strong}]. Days in a week; Mondays up to half a year (every second beyond a season), months
 *  in a year. */
export function ticks(day, days) {
  const first = dayNumber(day);
  const list = [];
  for (let n = first; n <= first + days; n++) {
    const date = dayText(n);
    const monday = (n + 3) % 7 === 0; // 1 January 1970 was a Thursday
    const weeks = Math.floor((n + 3) / 7);
    const shown = days <= 7 ? true : days <= 120 ? monday : days <= 200 ? monday && weeks % 2 === 0 : date.endsWith("-01");
    if (shown) {
      list.push({ day: date, at: (n - first) / days, label: days <= 7 ? dayNear(date) : dayShort(date), strong: date.endsWith("-01") });
    }
  }
  return list;
}

/** Marks that lie too near each other for a sign of that width become one: {at, from, to, marks, points}. Places are in pixels of
 *  a sheet of that width. What is out already (urgency 0) is not among them. */
export function merged(marks, day, days, width, sign) {
  const shown = marks.filter((m) => m.urgency > 0 && m.p50 && place(m.p50, day, days) <= 1)
    .map((m) => ({ mark: m, at: Math.max(sign * 0.6, place(m.p50, day, days) * width) }))
    .sort((a, b) => a.at - b.at);
  const groups = [];
  for (const { mark, at } of shown) {
    const last = groups.at(-1);
    if (last && at - last.at < sign) {
      last.marks.push(mark);
      last.sum += at;
    } else {
      groups.push({ at, sum: at, marks: [mark] });
    }
  }
  const clip = (date, fallback) => (date ? Math.min(Math.max(place(date, day, days), 0), 1) * width : fallback);
  return groups.map((g) => ({
    at: g.sum / g.marks.length,
    marks: g.marks,
    points: g.marks.reduce((n, m) => n + (m.points ?? 1), 0),
    system: g.marks.every((m) => m.system && m.system === g.marks[0].system) ? g.marks[0].system : "",
    bars: g.marks.filter((m) => m.p10 || m.p90).map((m) => [clip(m.p10, g.at), clip(m.p90, width)]).filter(([a, b]) => b > a),
  }));
}

/** Rows for bars that overlap, so that each is seen: adds row (0, 1, -1) to each [from, to]. */
export function rowed(bars) {
  const ends = [];
  return [...bars].sort((a, b) => a[0] - b[0]).map(([from, to]) => {
    let row = ends.findIndex((end) => end <= from);
    row = row < 0 ? ends.length % 3 : row;
    ends[row] = to + 6;
    return { from, to, row: [0, 1, -1][row] };
  });
}

/** What is out already, the worst first, and what is close without a day: for the gutter left of now. */
export const gutter = (marks) => marks.filter((m) => m.urgency === 0 || !m.p50);

/** "79 h over", "12 days over", "open", "fault", "out of limits": short, for the gutter. */
export function overWords(m, day) {
  if (m.kind === "put back" || m.kind === "found") {
    return t("strip.open");
  }
  if (m.kind === "fault") {
    return t("horizon.fault");
  }
  if (m.kind === "reading") {
    return t(m.verdict === "close" ? "strip.close" : "strip.out");
  }
  if (m.hours_left !== undefined && m.hours_left < 0) {
    return t("horizon.hours_over", { h: number(-m.hours_left) });
  }
  const late = m.p50 ? dayNumber(day) - dayNumber(m.p50) : 0;
  return late > 0 ? t("horizon.days_over", { n: late }) : t("strip.out");
}

/** When, in one line: "about Thu 3 Dec; 28 Nov to 9 Dec in four cases of five". */
export function whenWords(m, day) {
  if (m.urgency === 0) {
    return overWords(m, day);
  }
  if (!m.p50 || m.kind === "reading") {
    return quantity(m.says ?? "");
  }
  const about = m.urgency === 1 ? t("strip.today") : t("horizon.about", { day: dayNear(m.p50) });
  const band = m.p10 && m.p90 && m.p10 !== m.p90 ? t("horizon.band", { from: dayShort(m.p10), to: dayShort(m.p90) }) : m.p10 && !m.p90 ? t("horizon.band_open", { from: dayShort(m.p10) }) : "";
  return [about, band].filter(Boolean).join("; ");
}

/** How sure: the probability that it is overdue on the day asked for. */
export const sureWords = (m, on) => (m.chance === undefined || m.urgency === 0 ? "" : t("horizon.chance", { share: share(m.chance), day: dayShort(on) }));

/** "50 h service, 19 points" */
export const markLabel = (m) => (m.points ? t("due.service", { label: m.label, n: m.points }) : m.label);

/** Everything of a mark, for a screen reader. */
export const markSays = (m, answer) => [markLabel(m), m.system ? word("system", m.system) : "", whenWords(m, answer.day), sureWords(m, answer.chance_on)].filter(Boolean).join(", ");

/** Lanes that the filter lets through; with a system or kind only its marks. filter: {site, family, system, kind, within}. */
export function filtered(answer, filter) {
  const last = filter.within ? dayNumber(answer.day) + Number(filter.within) : Infinity;
  return answer.lanes.filter((l) => (!filter.site || l.site === filter.site) && (!filter.family || l.book === filter.family))
    .map((l) => {
      const marks = l.marks.filter((m) => (!filter.system || m.system === filter.system) && (!filter.kind || m.kind === filter.kind));
      return marks.length === l.marks.length ? l : { ...l, marks };
    })
    .filter((l) => (filter.within ? l.marks.some((m) => m.urgency === 0 || (m.p50 && dayNumber(m.p50) <= last)) : !(filter.system || filter.kind) || l.marks.length > 0));
}

/** Every mark of every lane, as a phone lists them: what is out first, then by day. */
export function listed(lanes) {
  const key = (m) => (m.urgency === 0 ? "" : m.p50 ?? "9999");
  return lanes.flatMap((lane, i) => lane.marks.map((mark, k) => ({ lane, mark, i, k })))
    .sort((a, b) => key(a.mark).localeCompare(key(b.mark)) || a.i - b.i || a.k - b.k);
}

/** Rows in sight of a list that is scrolled: [first, last), with some beyond each edge. */
export function inSight(scrolled, height, row, n, beyond = 6) {
  const first = Math.max(0, Math.floor(scrolled / row) - beyond);
  return [first, Math.min(n, Math.ceil((scrolled + height) / row) + beyond)];
}

/** "25 Nov 2026 to 24 Feb 2027" */
export const spanWords = (item) => (item.from === item.to ? dayWords(item.from) : t("horizon.span", { from: dayWords(item.from), to: dayWords(item.to) }));
