// What differs between two things that a book says of two machines. Pure.

const SECTIONS = ["fluids", "parts", "torques", "fuses", "checkpoints", "tasks", "adjusters", "services", "symptoms"];

/** A value for people: its words, else its members. */
export function shownValue(value) {
  if (value === null || value === undefined || value === "") {
    return "";
  }
  if (Array.isArray(value)) {
    return value.map(shownValue).join(", ");
  }
  return typeof value === "object" ? value.says ?? Object.entries(value).filter(([k]) => k !== "line").map(([, v]) => shownValue(v)).filter(Boolean).join(" ") : String(value);
}

/** [{section, name, label, what, before, after}]: members that differ, things that only one has (what: ""). Lines of the text and
 *  what the core is asked are left out. */
export function differences(a, b) {
  const list = [];
  for (const section of SECTIONS) {
    const left = new Map((a[section] ?? []).map((x) => [x.name ?? x.position, x]));
    const right = new Map((b[section] ?? []).map((x) => [x.name ?? x.position, x]));
    for (const name of new Set([...left.keys(), ...right.keys()])) {
      const [x, y] = [left.get(name), right.get(name)];
      if (!x || !y) {
        list.push({ section, name, label: (x ?? y).label ?? name, what: "", before: x ? shownValue(x.label) : "", after: y ? shownValue(y.label) : "", only: x ? "left" : "right" });
        continue;
      }
      for (const what of new Set([...Object.keys(x), ...Object.keys(y)])) {
        if (!["line", "judge", "figure", "chain"].includes(what) && JSON.stringify(x[what]) !== JSON.stringify(y[what])) {
          list.push({ section, name, label: x.label ?? name, what, before: shownValue(x[what]), after: shownValue(y[what]), only: "" });
        }
      }
    }
  }
  return list;
}
