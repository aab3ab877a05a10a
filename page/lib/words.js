// Dates, times and numbers as people read them. Pure functions; what day it is comes in.

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const DAYS = ["Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"];

/** Days since 1970-01-01 of "2026-11-25"; NaN when it is none. */
export function dayNumber(date) {
  const m = /^(\d{4})-(\d\d)-(\d\d)/.exec(date ?? "");
  return m ? Date.UTC(+m[1], +m[2] - 1, +m[3]) / 86400000 : NaN;
}

/** "25 Nov 2026" */
export function dayWords(date) {
  const m = /^(\d{4})-(\d\d)-(\d\d)/.exec(date ?? "");
  return m ? `${+m[3]} ${MONTHS[+m[2] - 1]} ${m[1]}` : "";
}

/** "Wednesday 25 Nov 2026" */
export function dayLong(date) {
  const n = dayNumber(date);
  return Number.isNaN(n) ? "" : `${DAYS[(((n + 4) % 7) + 7) % 7]} ${dayWords(date)}`;
}

/** "3 h 35 min", "12 min", "40 s" */
export function timeWords(seconds) {
  if (seconds < 60) {
    return `${Math.round(seconds)} s`;
  }
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** "1 machine", "9 machines" */
export function count(n, one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}

/** "2769 h"; empty when not known. */
export function hours(h) {
  return h === null || h === undefined ? "" : `${Math.round(h)} h`;
}

const MOST_SAID = 50; // a looser bound tells nobody anything

/** How good the order of a round is. */
export function proofWords(round) {
  if (round.proven) {
    return "the fastest safe order, proven";
  }
  // A hair less before rounding up, so that 105 against 100 s is 5 % and not 6.
  const over = round.bound_s > 0 ? Math.ceil((round.moves_s / round.bound_s - 1) * 100 - 1e-9) : 100;
  return over <= MOST_SAID ? `a safe order, within ${over} % of the fastest` : "a safe order, not proven to be the fastest";
}
