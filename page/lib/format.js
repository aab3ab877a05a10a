// Dates, times, numbers and quantities as this reader wants them. Pure functions over the settings and the language.
import { settings } from "./settings.js";
import { languageName, t } from "./words.js";

const DAY_MS = 86400000;

/** Days since 1970-01-01 of "2026-11-25" or of a longer time that begins so; NaN when it is none. */
export function dayNumber(date) {
  const m = /^(\d{4})-(\d\d)-(\d\d)/.exec(date ?? "");
  return m ? Date.UTC(+m[1], +m[2] - 1, +m[3]) / DAY_MS : NaN;
}

/** "2026-11-25" of a day number. */
export const dayText = (n) => new Date(n * DAY_MS).toISOString().slice(0, 10);

const formats = new Map();
function intl(options) {
  const key = `${languageName()} ${JSON.stringify(options)}`;
  if (!formats.has(key)) {
    formats.set(key, new Intl.DateTimeFormat(languageName() === "en" ? "en-GB" : languageName(), { timeZone: "UTC", ...options }));
  }
  return formats.get(key);
}

const FORMS = {
  iso: (d) => d,
  "day-first": (d) => `${d.slice(8, 10)}/${d.slice(5, 7)}/${d.slice(0, 4)}`,
  "month-first": (d) => `${d.slice(5, 7)}/${d.slice(8, 10)}/${d.slice(0, 4)}`,
};

/** "25 Nov 2026", "2026-11-25", "25/11/2026", "11/25/2026" as chosen; empty when it is no date. */
export function dayWords(date) {
  const n = dayNumber(date);
  if (Number.isNaN(n)) {
    return "";
  }
  const form = FORMS[settings().dates];
  return form ? form(dayText(n)) : intl({ day: "numeric", month: "short", year: "numeric" }).format(n * DAY_MS);
}

/** Without the year, as on an axis: "25 Nov", "11-25". */
export function dayShort(date) {
  const n = dayNumber(date);
  if (Number.isNaN(n)) {
    return "";
  }
  const form = { iso: (d) => d.slice(5), "day-first": (d) => `${d.slice(8, 10)}/${d.slice(5, 7)}`, "month-first": (d) => `${d.slice(5, 7)}/${d.slice(8, 10)}` }[settings().dates];
  return form ? form(dayText(n)) : intl({ day: "numeric", month: "short" }).format(n * DAY_MS);
}

/** "Wednesday 25 Nov 2026" */
export function dayLong(date) {
  const n = dayNumber(date);
  return Number.isNaN(n) ? "" : `${intl({ weekday: "long" }).format(n * DAY_MS)} ${dayWords(date)}`;
}

/** "Wed 25 Nov" */
export function dayNear(date) {
  const n = dayNumber(date);
  return Number.isNaN(n) ? "" : `${intl({ weekday: "short" }).format(n * DAY_MS)} ${dayShort(date)}`;
}

/** A depot's local time "2026-11-25 07:40" as chosen: "25 Nov 2026, 07:40". */
export function timeLocal(at) {
  const time = /^\d{4}-\d\d-\d\d[ T](\d\d:\d\d)/.exec(at ?? "");
  return time ? `${dayWords(at)}, ${time[1]}` : dayWords(at);
}

/** An instant (RFC 3339, or milliseconds) by this device's clock, as chosen: "25 Nov 2026, 07:40". */
export function momentWords(at) {
  const time = new Date(at);
  const two = (n) => String(n).padStart(2, "0");
  return Number.isNaN(time.getTime()) ? "" : timeLocal(`${time.getFullYear()}-${two(time.getMonth() + 1)}-${two(time.getDate())} ${two(time.getHours())}:${two(time.getMinutes())}`);
}

/** "3 h 35 min", "12 min", "40 s" */
export function timeWords(seconds) {
  if (seconds < 60) {
    return `${Math.round(seconds)} s`;
  }
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** With the language's decimal sign and as many places as given; a narrow space between thousands from five digits on. */
export function number(n, places = 0) {
  const text = new Intl.NumberFormat(languageName() === "en" ? "en-GB" : languageName(), { minimumFractionDigits: places, maximumFractionDigits: places, useGrouping: false }).format(n);
  return Math.abs(n) >= 10000 ? text.replace(/\B(?=(\d{3})+(?!\d))(?<!\d[.,]\d*)/g, "\u202f") : text;
}

/** "2769 h"; empty when not known. */
export const hours = (h) => (h === null || h === undefined ? "" : `${number(h)} h`);

/** "83 %" of 0.83; never 0 or 100 % when it is neither. */
export function share(p) {
  if (p === null || p === undefined || Number.isNaN(p)) {
    return "";
  }
  const rounded = Math.round(p * 100);
  return rounded <= 0 && p > 0 ? "< 1 %" : rounded >= 100 && p < 1 ? "> 99 %" : `${rounded} %`;
}

// [unit, factor, offset added first, places]: NIST SP 811 (2008), appendix B; a US gallon is 3.785411784 L.
const TO_US = {
  bar: ["psi", 14.503774, 0], kPa: ["psi", 0.14503774, 0], MPa: ["psi", 145.03774, 0], "\u00b0C": ["\u00b0F", 1.8, 32], mm: ["in", 1 / 25.4, 0], m: ["ft", 1 / 0.3048, 0],
  km: ["mi", 1 / 1.609344, 0], "km/h": ["mph", 1 / 1.609344, 0], L: ["US gal", 1 / 3.785411784, 0], mL: ["US fl oz", 1 / 29.5735295625, 0], "L/min": ["US gpm", 1 / 3.785411784, 0],
  kg: ["lb", 1 / 0.45359237, 0], "N\u00b7m": ["lbf\u00b7ft", 0.73756215, 0], Nm: ["lbf\u00b7ft", 0.73756215, 0], kW: ["hp", 1.3410221, 0],
};
const TO_SI = Object.fromEntries(Object.entries(TO_US).map(([si, [us, factor, offset]]) => [us, [si, 1 / factor, -offset, offset ? "first" : ""]]));
TO_SI.psi = ["bar", 1 / 14.503774, 0];
TO_SI["lbf\u00b7ft"] = ["N\u00b7m", 1 / 0.73756215, 0];

/** So many digits as the number came with, at least two and no more than tell something. */
function digits(value, from) {
  const significant = Math.max(2, from.replace(/^-?0*[.,]?0*|[.,-]/g, "").length);
  const places = Math.max(0, Math.min(3, significant - 1 - Math.floor(Math.log10(Math.abs(value) || 1))));
  return number(value, places);
}

/** A text with quantities and days in it, "1.9 bar", "1.4 to 1.6 bar", "2026-11-24 10:11": with the units, the decimal sign and the
 *  form of dates that the reader chose. What is neither stays as it is. */
export function quantity(text) {
  const units = settings().units;
  const table = units === "us" ? TO_US : units === "si" ? TO_SI : null;
  const shown = (n) => (languageName() === "en" ? n : n.replace(".", ","));
  const one = String.raw`-?\d+(?:\.\d+)?`;
  const dated = String(text ?? "").replace(/(?<![\w-])\d{4}-\d\d-\d\d(?: \d\d:\d\d)?(?![\w-])/g, (at) => timeLocal(at));
  return dated.replace(new RegExp(String.raw`(?<![\w.-])(${one})(?:( to | \.\. |\u2013)(${one}))? (US gal|US gpm|US fl oz|lbf\u00b7ft|N\u00b7m|Nm|km\/h|L\/min|\u00b0[CF]|kPa|MPa|bar|psi|mm|km|mph|mL|kg|lb|kW|hp|in|ft|mi|L|m)(?![\w\u00b7/])`, "gu"),
    (whole, a, between, b, unit) => {
      const rule = table && Object.hasOwn(table, unit) ? table[unit] : null;
      const turned = (n) => (rule ? digits(rule[3] ? (+n + rule[2]) * rule[1] : +n * rule[1] + rule[2], n) : shown(n));
      return `${turned(a)}${b === undefined ? "" : `${between === " to " ? ` ${t("to")} ` : between}${turned(b)}`} ${rule ? rule[0] : unit}`;
    });
}

/** A unit as it is shown: "degC" is "\u00b0C". */
export const unitShown = (unit) => ({ degC: "\u00b0C", degF: "\u00b0F" })[unit] ?? String(unit ?? "").replaceAll(".", "\u00b7");

const MOST_SAID = 50; // a looser bound tells nobody anything

/** How good the order of a round is. */
export function proofWords(round) {
  if (round.proven) {
    return t("round.proven");
  }
  // A hair less before rounding up, so that 105 against 100 s is 5 % and not 6.
  const over = round.bound_s > 0 ? Math.ceil((round.moves_s / round.bound_s - 1) * 100 - 1e-9) : 100;
  return over <= MOST_SAID ? t("round.within", { over }) : t("round.unproven");
}
