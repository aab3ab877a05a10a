// What the phone makes of a trace without a browser: evidence after what was noted there, what can still be ticked, the question.
// Speaks TAP.
import { pathToFileURL } from "node:url";
import { join } from "node:path";

const { evidenceAfter, phrasesOf, questionOf, statesOf, ticksOf } = await import(pathToFileURL(join(process.env.WITMARK_SOURCE, "page/lib/trace.js")));

let number = 0;
function equal(got, wanted, name) {
  number++;
  const [a, b] = [JSON.stringify(got), JSON.stringify(wanted)];
  console.log(`${a === b ? "ok" : "not ok"} ${number} - ${name}`);
  if (a !== b) {
    console.log(`# ${a}\n# wanted ${b}`);
  }
}

const items = Object.fromEntries([["slow", "symptom"], ["wet", "symptom"], ["dry", "symptom"], ["squeeze", "test"], ["renew", "cure"]].map(([name, sort]) => [name, { name, sort }]));
const rows = [
  ["nothing noted", [], "saw=slow"],
  ["seen", [{ step: "seen", what: "wet" }], "saw=slow\nsaw=wet"],
  ["not seen", [{ step: "not-seen", what: "wet" }], "saw=slow\nnot=wet"],
  ["the latest holds", [{ step: "seen", what: "wet" }, { step: "not-seen", what: "wet" }], "saw=slow\nnot=wet"],
  ["also against the depot's", [{ step: "not-seen", what: "slow" }], "not=slow"],
  ["a test", [{ step: "done", what: "squeeze", result: "yes" }], "saw=slow\nsaw=squeeze"],
  ["a test that came out no", [{ step: "done", what: "squeeze", result: "no" }], "saw=slow\nnot=squeeze"],
  ["a cure that helped", [{ step: "done", what: "renew", result: "cured" }], "saw=slow\ncured=renew"],
  ["a cure that did not", [{ step: "done", what: "renew", result: "not-cured" }], "saw=slow\ntried=renew"],
  ["can't", [{ step: "cannot", what: "squeeze" }], "saw=slow\ncannot=squeeze"],
  ["a start says nothing", [{ step: "started", what: "", result: "" }], "saw=slow"],
];
for (const [name, noted, wanted] of rows) {
  equal(evidenceAfter("saw=slow\n", noted, items), wanted, name);
}
equal(statesOf("saw=slow\nnot=wet\ncannot=squeeze\ntried=renew"), { slow: "yes", wet: "no", squeeze: "cannot", renew: "no" }, "states");
const symptom = { symptom: "slow", label: "Rolls slowly", says: ["crawls"], evidence: "saw=slow\n", items: ["slow", "wet", "dry", "squeeze"],
  question: "cause=3 filter\ncause=1 seal\nchance=0.1 wet filter\nchance=0.9 wet seal\nchance=0.4 dry filter\nchance=0.5 dry seal\n" };
equal(questionOf(symptom, [{ step: "seen", what: "wet" }], items).split("\n").slice(-3), ["saw=slow", "saw=wet", ""], "the question ends with what was seen");
const causes = [{ name: "filter", p: 0.7 }, { name: "seal", p: 0.3 }];
equal(ticksOf(symptom, items, statesOf("saw=slow"), causes).map((i) => i.name), ["wet", "dry"], "what tells most is asked first; tests are no ticks");
equal(ticksOf(symptom, items, statesOf("saw=slow\nnot=wet"), causes).map((i) => i.name), ["dry"], "what was told is not asked again");
const strange = { ...symptom, question: `sign=0.03 - dry\nsign=0.03 1 wet\n${symptom.question}` };
equal(ticksOf(strange, items, statesOf("saw=slow"), causes).map((i) => i.name), ["wet"], "what makes no sense with it is not asked");
equal(phrasesOf([symptom]), [["slow", "Rolls slowly"], ["slow", "slow"], ["slow", "crawls"]], "ways to say it");
console.log(`1..${number}`);
