// Same answer on phone and server: every published case through the whole case runner in the browser, against the ordinary build;
// and the core as the program serves it. Speaks TAP. usage: cases_test.mjs WITMARK CASES.WASM WITMARK-CASES
import { chromium } from "playwright-core";
import { spawnSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { join, resolve } from "node:path";
import { serve } from "./depot.mjs";

const [witmark, casesWasm, nativeCases] = process.argv.slice(2).map((path) => resolve(path));
const CHECKS = join(process.env.WITMARK_DATA, "checks");
// As tests/wasm/agreement.mjs, which says why: searches for the top of a likelihood and ill-conditioned fits keep fewer digits.
const RELATIVE = 1e-12;
const RELATIVE_OF_TOPIC = { "01_life_fit": 1e-7, "10_regression_trend": 1e-7 };

// Where two JSON values differ, or "".
function difference(native, browser, tolerance, path = "") {
  if (typeof native === "number" && typeof browser === "number") {
    return Math.abs(native - browser) <= tolerance * Math.max(Math.abs(native), Math.abs(browser), 1e-300) ? "" : `${path}: ${native} and ${browser} in the browser`;
  }
  if (native && browser && typeof native === "object" && typeof browser === "object") {
    const keys = Object.keys(native);
    return keys.length !== Object.keys(browser).length ? `${path}: other members` : keys.map((k) => difference(native[k], browser[k], tolerance, `${path}/${k}`)).find(Boolean) ?? "";
  }
  return native === browser ? "" : `${path}: ${JSON.stringify(native)} and ${JSON.stringify(browser)} in the browser`;
}

/** In the page: loads the case runner; window.runCase(text) gives its line. */
async function loadRunner(base64) {
  const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
  let exports = null;
  const utf8 = new TextDecoder();
  const zone_offset = (place, at) => {
    const memory = new Uint8Array(exports.memory.buffer, place);
    try {
      const parts = new Intl.DateTimeFormat("en", { timeZone: utf8.decode(memory.slice(0, memory.indexOf(0))), timeZoneName: "longOffset" }).formatToParts(at * 1000);
      const [, sign, h, m] = /GMT(?:([+-])(\d\d):(\d\d))?/.exec(parts.find((p) => p.type === "timeZoneName").value);
      return sign ? (sign === "-" ? -1 : 1) * (Number(h) * 60 + Number(m)) : 0;
    } catch {
      return -(2 ** 31);
    }
  };
  ({ exports } = (await WebAssembly.instantiate(bytes, { host: { zone_offset } })).instance);
  window.runCase = (one) => {
    const given = new TextEncoder().encode(JSON.stringify(one));
    const place = exports.wm_alloc(given.length);
    new Uint8Array(exports.memory.buffer).set(given, place);
    const answer = exports.run_case(place, given.length);
    const size = new DataView(exports.memory.buffer).getUint32(answer, true);
    const line = utf8.decode(new Uint8Array(exports.memory.buffer, answer + 4, size));
    exports.wm_free(place);
    exports.wm_free(answer);
    return JSON.parse(line);
  };
}

let number = 0;
let failures = 0;
function report(name, problem) {
  failures += problem ? 1 : 0;
  console.log(`${problem ? "not ok" : "ok"} ${++number} - ${name.replaceAll("#", "")}${problem ? `\n# ${String(problem).replaceAll("\n", "\n# ")}` : ""}`);
}

const server = await serve(witmark);
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM, args: ["--no-sandbox"] });
const page = await browser.newPage();
await page.goto(server.address);
const served = await page.evaluate(async () => {
  const { loadCore } = await import("/lib/core.mjs");
  const answer = await fetch("/core.wasm");
  const type = answer.headers.get("content-type");
  const core = await loadCore(answer);
  return [type, core.calc("tyre-pressure", { gauge: "20 psi", from: "70 degF", to: "50 degF", ambient1: "14.7 psi", ambient2: "14.7 psi" }, "us").outputs.gauge.text];
});
// tyres-01 of the published cases: 18.69 psi
report("the core as it is served", served[0] === "application/wasm" && Math.abs(parseFloat(served[1]) - 18.69) <= 0.01 ? "" : JSON.stringify(served));
await page.evaluate(loadRunner, readFileSync(casesWasm).toString("base64"));
for (const topic of ["engineering", "reliability"]) {
  for (const file of readdirSync(join(CHECKS, topic)).filter((f) => f.endsWith(".json")).sort()) {
    const path = join(CHECKS, topic, file);
    const out = spawnSync(nativeCases, ["--results", path], { encoding: "utf8", maxBuffer: 1 << 28 });
    const natives = out.stdout.split("\n").filter((line) => line.startsWith("{")).map((line) => JSON.parse(line));
    const cases = JSON.parse(readFileSync(path));
    const found = await page.evaluate((list) => list.map((one) => window.runCase(one)), cases);
    const problems = cases.map((one, i) => {
      const problem = !found[i].passed ? found[i].why || found[i].refused : difference(natives[i], found[i], RELATIVE_OF_TOPIC[one.topic] ?? RELATIVE);
      return problem && `${one.id}: ${problem}`;
    }).filter(Boolean);
    report(`${cases.length} cases of ${file}`, natives.length !== cases.length ? `the ordinary build answered ${natives.length}: ${out.stderr}` : problems.slice(0, 5).join("\n"));
  }
}
await browser.close();
const status = await server.stop();
report("the server ends cleanly", status === 0 ? "" : status);
console.log(`1..${number}`);
process.exit(failures ? 1 : 0);
