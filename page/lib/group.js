// Today's list as it is read: in groups by urgency, the points of one service on one line. Pure.

export const GROUPS = [
  { key: "out", has: (due) => due.urgency === 0 },
  { key: "today", has: (due) => due.urgency === 1 },
  { key: "come", has: (due) => due.urgency >= 2 },
];

/** So many points of one service stand on one line, as `witmark today` does. */
export const TOGETHER_LEAST = 3;

/** Lines in the order of the list: {due} or {due, points: [due...]} where several points of a service belong together. */
export function lines(list) {
  const together = new Map();
  const keyOf = (due) => (due.service ? JSON.stringify([due.machine, due.service, due.urgency]) : null);
  for (const due of list) {
    const key = keyOf(due);
    if (key) {
      together.set(key, [...(together.get(key) ?? []), due]);
    }
  }
  const out = [];
  const seen = new Set();
  for (const due of list) {
    const key = keyOf(due);
    const points = together.get(key) ?? [];
    if (points.length < TOGETHER_LEAST) {
      out.push({ due });
    } else if (!seen.has(key)) {
      seen.add(key);
      out.push({ due: points[0], points });
    }
  }
  return out;
}
