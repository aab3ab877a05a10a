// Entries made by page/lib/chain.js: published vectors, and the program's own verdict on them (log import, log verify).
// usage: chain_test.mjs WITMARK       Speaks TAP; needs only Node.
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import * as chain from "../../page/lib/chain.js";

const witmark = resolve(process.argv[2]);
const source = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const folder = mkdtempSync(join(tmpdir(), "witmark-chain-"));
const tests = [];
const test = (name, run) => tests.push({ name, run });

function equal(found, wanted, what) {
  if (JSON.stringify(found) !== JSON.stringify(wanted)) {
    throw new Error(`${what}: ${JSON.stringify(found)} instead of ${JSON.stringify(wanted)}`);
  }
}

function throws(run, what) {
  try {
    run();
  } catch {
    return;
  }
  throw new Error(`${what}: no error`);
}

test("canonical JSON: RFC 8785", () => {
  // RFC 8785 3.2.2 to 3.2.4 (worked example), 3.2.3 (sorting), and its author's test data (Apache-2.0: structures, weird, values)
  const rows = [
    [String.raw`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001], "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`,
      String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`],
    [String.raw`{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`,
      "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"\u{1f600}\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}"],
    [String.raw`{"1": {"f": {"f": "hi","F": 5} ,"\n": 56.0}, "10": { }, "": "empty", "a": { }, "111": [ { } ], "A": { } }`,
      String.raw`{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}`],
    ["[-0.0, -0, 1.0, 9007199254740991]", "[0,0,1,9007199254740991]"],
  ];
  for (const [given, wanted] of rows) {
    equal(chain.canonical(JSON.parse(given)), wanted, given);
    equal(chain.canonical(JSON.parse(wanted)), wanted, "its own canonical form");
  }
  // RFC 8785 appendix B: IEEE 754 bits and their text
  for (const [bits, wanted] of [["0000000000000001", "5e-324"], ["7fefffffffffffff", "1.7976931348623157e+308"], ["4340000000000000", "9007199254740992"],
    ["4430000000000000", "295147905179352830000"], ["44b52d02c7e14af5", "9.999999999999997e+22"], ["44b52d02c7e14af6", "1e+23"], ["444b1ae4d6e2ef4e", "999999999999999700000"],
    ["3eb0c6f7a0b5ed8c", "9.999999999999997e-7"], ["3eb0c6f7a0b5ed8d", "0.000001"], ["41b3de4355555553", "333333333.3333332"], ["becbf647612f3696", "-0.0000033333333333333333"]]) {
    const view = new DataView(chain.unhex(bits).buffer);
    equal(chain.canonical(view.getFloat64(0)), wanted, bits);
  }
  throws(() => chain.canonical(NaN), "not a number"); // RFC 8785 3.2.2.3
  throws(() => chain.canonical(Infinity), "infinity");
  throws(() => chain.canonical("\udead"), "a lone surrogate"); // RFC 8785 3.2.2.2
  throws(() => chain.canonical({ "\ud83d": 1 }), "a lone surrogate in a name");
});

test("SHA-256: FIPS 180-4", async () => {
  equal(chain.hex(await chain.sha256("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", "one block");
  equal(chain.hex(await chain.sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855", "nothing");
});

test("Ed25519 of the browser: RFC 8032 7.1, test 3", async () => {
  const secret = chain.unhex("c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7");
  const pkcs8 = Uint8Array.from([...chain.unhex("302e020100300506032b657004220420"), ...secret]); // RFC 8410, 7
  const key = await crypto.subtle.importKey("pkcs8", pkcs8, "Ed25519", false, ["sign"]);
  equal(chain.hex(await crypto.subtle.sign("Ed25519", key, chain.unhex("af82"))),
    "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a", "signature");
});

test("UUIDv7: RFC 9562 A.6", () => {
  // unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F; a counter of ours starts below 0x800, so it is led there
  const random = Uint8Array.from([0, 0, ...chain.unhex("18c4dc0c0c07398f")]);
  equal(chain.nextId("017f22e2-79b0-7cc2-8000-000000000000", 0x017f22e279b0, random), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "id");
});

test("ids grow with a clock that stands still, jumps and goes back, and with a full counter", () => {
  let last = null;
  let now = Date.UTC(2026, 10, 25);
  for (let i = 0; i < 6000; i++) {
    now += i % 1000 === 500 ? -86400000 : i % 1000 === 700 ? 3600000 : i % 7 === 0 ? 1 : 0;
    const next = chain.nextId(last, now);
    equal(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/.test(next), true, next);
    equal(last === null || next > last, true, `${next} after ${last}`);
    last = next;
  }
  equal(chain.nextId("00000000-03e8-7fff-8000-000000000005", 1000, new Uint8Array(10)), "00000000-03e9-7000-8000-000000000000", "a full counter borrows a millisecond");
});

// A depot with a machine, and what phones have written about it.
const depot = join(folder, "depot");
const run = (...words) => execFileSync(witmark, [...words, "--depot", depot], { cwd: source, stdio: ["ignore", "pipe", "pipe"] }).toString();
const tried = (...words) => spawnSync(witmark, [...words, "--depot", depot], { cwd: source }).stderr.toString();
const file = (name, entries) => {
  writeFileSync(join(folder, name), entries.map((entry) => `${JSON.stringify({ entry })}\n`).join(""));
  return join(folder, name);
};

const drafts = [
  { kind: "meter", body: { hours: 1204.5 } },
  { kind: "reading", body: { checkpoint: "front-tyre-left", value: 1.45, unit: "bar", with: { temperature: { value: 21, unit: "degC" } }, note: "cold \u{1f600} \ufb33 \"quoted\"" } },
  { kind: "found", at: "2026-11-24T07:00:00.250Z", body: { checkpoint: "rake-tines", look: "worn: 3 of 12\n\tleft side" } },
  { kind: "opened", body: { what: "side-panel" } },
  { kind: "put-back", body: { what: "side-panel" } },
  { kind: "turn", body: { adjuster: "rake-valve", turns: -0.25, accepted: false } },
  { kind: "reading", body: { checkpoint: "charge-pressure", value: 1e-7, unit: "bar" } },
];

async function made(writer, list, now) {
  let head = chain.START;
  const out = [];
  for (const draft of list) {
    const entry = await chain.nextEntry(writer, head, { by: "Ines Solà", machine: "BR6-02204", ...draft }, now());
    head = chain.headOf(entry);
    out.push(entry);
  }
  return out;
}

let entries = [];
test("entries of two phones are imported in any order, twice, and the depot verifies", async () => {
  run("depot", "new", "--name", "Test depot", "--zone", "Europe/Lisbon");
  run("book", "take", "books/brine6.yaml");
  run("machine", "add", "BR6-02204", "--label", "B-03", "--by", "Ines");
  const clock = Date.UTC(2026, 10, 25, 8);
  let ticks = 0;
  entries = await made(await chain.newWriter(), drafts, () => clock + 1000 * ticks++);
  const other = await made(await chain.newWriter(), drafts, () => clock - 86400000 * ticks++); // a clock that runs backwards
  for (const entry of [...entries, ...other]) {
    equal(await chain.proof(entry), "", "our own check");
  }
  const shuffled = [...entries, ...other].sort((a, b) => (a.hash < b.hash ? -1 : 1));
  run("log", "import", file("shuffled", shuffled));
  run("log", "import", file("again", shuffled.reverse()));
  run("log", "verify");
  const list = JSON.parse(run("log", "list", "--json", "--limit", "100"));
  const rows = Array.isArray(list) ? list : list.entries;
  equal(rows.filter((row) => entries.some((entry) => entry.id === row.id && entry.hash === row.hash)).length, entries.length, "as they were made");
});

test("an entry that was altered or signed by another is refused", async () => {
  const altered = { ...entries[1], id: chain.nextId(entries[6].id, Date.now()), body: { ...entries[1].body, value: 1.55 } };
  equal(await chain.proof(altered), "altered", "our check");
  equal(tried("log", "import", file("altered", [altered])).includes("altered"), true, "the program's words");
  const forged = { ...entries[6], sig: entries[5].sig, id: entries[6].id };
  equal(await chain.proof(forged), "forged", "our check");
});

console.log("TAP version 13");
console.log(`1..${tests.length}`);
let failures = 0;
for (const [i, { name, run: one }] of tests.entries()) {
  try {
    await one();
    console.log(`ok ${i + 1} - ${name}`);
  } catch (error) {
    failures++;
    console.log(`not ok ${i + 1} - ${name}\n${String(error.stack ?? error).replace(/^/gm, "# ")}`);
  }
}
rmSync(folder, { recursive: true, force: true });
process.exit(failures ? 1 : 0);
