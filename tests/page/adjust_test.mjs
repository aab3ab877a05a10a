// What page/lib/adjust.js makes of the depot's answers and this phone's own entries. Expected settings are added up by hand. Speaks TAP.
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const A = await import(pathToFileURL(join(process.env.WITMARK_SOURCE, "page/lib/adjust.js")));
let n = 0;
function same(name, got, wanted) {
  n++;
  const ok = JSON.stringify(got) === JSON.stringify(wanted);
  console.log(`${ok ? "ok" : "not ok"} ${n} - ${name}`);
  if (!ok) {
    console.log(`# got ${JSON.stringify(got)}\n# wanted ${JSON.stringify(wanted)}`);
  }
}

same("figures of turns", [0, 90, 180, 360, 1080, -1440, 240, 45].map(A.turnsFigure), ["0", "⅛", "¼", "½", "1½", "2", "⅓", "0.063"]);

const turn = (entry, count, saw = "not said", accepted = false) => ({ entry, turn: { count }, saw, accepted, found: false, at: "2026-11-25T08:00:00.000Z", by: "Ines", note: "" });
const adjuster = { name: "screw", rules: { way: "in", first_step: { count: 1080 }, step: { count: 360 }, at_most: { count: 2880 }, prior: 0.75 }, other_open: "", turns: [turn("01a", 1080, "less")] };
const mine = [
  { id: "01c", kind: "turn", body: { adjuster: "screw", turns: 0.5, saw: "gone", accepted: true }, at: "", by: "Maro", here: "phone" },
  { id: "01a", kind: "turn", body: { adjuster: "screw", turns: 1.5, saw: "less" }, at: "", by: "Ines", here: "depot" }, // the depot has it
  { id: "01b", kind: "turn", body: { adjuster: "other", turns: 9 }, at: "", by: "Maro", here: "phone" },
  { id: "01d", kind: "turn", body: { adjuster: "screw", turns: 9 }, at: "", by: "Maro", here: "refused" },
];
const all = A.allTurns(adjuster, mine);
same("this phone's turns come after the depot's, each once", all.map((x) => [x.count, x.saw, x.accepted, x.here]), [[1080, "less", false, false], [360, "gone", true, true]]);
same("the question", A.adjustQuestion(adjuster, all, { ask: 180, missing: "the load is supported" }),
  { way: "in", "first-step": 1080, step: 360, "at-most": 2880, prior: 0.75, turn: ["1080 less", "360 gone accepted"], ask: 180, missing: "the load is supported" });
same("a third of a turn comes back whole", [240, -240, 90].map((c) => Math.round(A.turnBody("s", c).turns * A.TURN)), [240, -240, 90]);
same("the dial's ends", [A.dialAngle(2880, 2880), A.dialAngle(-2880, 2880), A.dialAngle(0, 2880), A.dialAngle(9999, 2880)], [150, -150, 0, 165]);

const answer = { question: "step=0 |\nlimit=300 ? ? ? ?", items: { chocks: 0, bar: 1 }, events: [{ entry: "01a", line: "opened=0" }] };
const events = [
  { id: "01a", kind: "opened", body: { what: "chocks" }, here: "depot" },
  { id: "01b", kind: "opened", body: { what: "bar" }, here: "phone" },
  { id: "01c", kind: "moved", body: { distance: { value: 0.1, unit: "km" }, time: { value: 4, unit: "min" } }, here: "phone" },
  { id: "01d", kind: "opened", body: { what: "sump-plug" }, here: "phone" },
];
same("a recovery's events", A.recoverQuestion(answer, events, [200, NaN, 0.03, NaN]), ["step=0 |", "limit=300 ? ? ? ?", "opened=0", "opened=1", "moved=100 240 ? ?", "plan=200 ? 0.03 ?"]);
same("a step writes what is not so yet", A.stepEntries({ entries: [{ kind: "opened", what: "a" }, { kind: "put-back", what: "b" }, { kind: "put-back", what: "c" }] }, new Set(["b"])), [{ kind: "opened", what: "a" }, { kind: "put-back", what: "b" }]);
same("the list with what waits here", A.openItems([{ item: "bypass", label: "x" }, { item: "prop", label: "y" }], [
  { id: "1", kind: "put-back", body: { what: "prop" }, here: "phone" }, { id: "2", kind: "opened", body: { what: "plug" }, at: "t", by: "I", here: "phone" },
  { id: "3", kind: "put-back", body: { what: "bypass" }, here: "refused" }], new Set()).map((o) => o.item), ["bypass", "plug"]);
console.log(`1..${n}`);
