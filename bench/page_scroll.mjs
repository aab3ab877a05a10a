// Frame times of the horizon while a thousand machines scroll, in Chromium. The answer is generated (fixed seed): what the server
// would say of 1,000 machines with 25 marks each. usage: node bench/page_scroll.mjs ADDRESS [MACHINES]
import { createRequire } from "node:module";
const require = createRequire(new URL("../tests/page/package.json", import.meta.url));
const { chromium } = require("playwright-core");

const [address, count = "1000"] = process.argv.slice(2);
if (!address) {
  console.error("usage: node bench/page_scroll.mjs ADDRESS [MACHINES]");
  process.exit(2);
}

let seed = 20261125;
const random = () => ((seed = (Math.imul(seed, 1103515245) + 12345) >>> 0) >>> 8) / 16777216; // a linear congruence is enough here
const day = (n) => new Date(Date.UTC(2026, 10, 25) + n * 86400000).toISOString().slice(0, 10);
const SYSTEMS = ["air", "arms", "body", "cab", "cooling", "drive", "electric", "engine", "exhaust", "fuel", "grease", "hydraulic", "rake", "safety", "tyres"];

function answer(n) {
  const lanes = Array.from({ length: n }, (_, i) => {
    const marks = Array.from({ length: 25 }, (_, k) => {
      const p50 = Math.floor(random() * 180);
      const half = 2 + Math.floor(p50 * 0.3);
      return { key: `point-${k}`, label: `Checkpoint ${k}`, kind: "checkpoint", system: SYSTEMS[Math.floor(random() * SYSTEMS.length)], urgency: k === 0 && random() < 0.3 ? 0 : 3, p10: day(p50 - half), p50: day(p50), p90: day(p50 + half), chance: 0.1, hours_left: 40 };
    });
    return { name: `T-${i + 1}`, serial: `TST-${i + 1}`, book: "family", site: `Site ${i % 20}`, hours: 1000 + i, open: 0, faults: 0, out: 0, marks };
  });
  return { depot: "Generated", day: day(0), until: day(91), chance_on: day(7), families: { family: "Generated machine" }, lanes, calendar: [{ entry: "x", type: "season", label: "leaf season", from: day(10), to: day(40), site: "", machine: "", name: "", hours: null }], weeks: Array.from({ length: 14 }, (_, i) => ({ monday: day(i * 7 - 2), taken: 10, hands: 38 })) };
}

const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox"] });
const page = await (await browser.newContext({ viewport: { width: 1440, height: 900 }, reducedMotion: "reduce", locale: "en-GB" })).newPage();
const body = JSON.stringify(answer(Number(count)));
await page.route(/\/api\/horizon/, (route) => route.fulfill({ contentType: "application/json", body }));
const begun = Date.now();
await page.goto(address);
await page.waitForSelector(".lane");
const shown = Date.now() - begun;
const frames = await page.evaluate(async () => {
  const list = document.querySelector(".lanes");
  const quantiles = (times) => {
    times.sort((a, b) => a - b);
    const q = (p) => Math.round(times[Math.min(times.length - 1, Math.floor(p * times.length))] * 10) / 10;
    return { frames: times.length, median_ms: q(0.5), p95_ms: q(0.95), longest_ms: q(1) };
  };
  const frame = () => new Promise(requestAnimationFrame);
  const result = { idle: null, steps: {} };
  let last = performance.now();
  // The same frames with nothing to do: what this machine gives at all.
  const idle = [];
  for (let i = 0; i < 120; i++) {
    await frame();
    idle.push(performance.now() - last);
    last = performance.now();
  }
  result.idle = quantiles(idle);
  let behind = 0;
  const end = list.scrollHeight - list.clientHeight;
  // Half a second of a fast flick each way, again and again: 40 px a frame at first, faster and faster.
  for (let step = 40; step <= 640; step *= 2) {
    list.scrollTop = 0;
    await frame();
    last = performance.now();
    const times = [];
    for (let i = 0; i < 60 && list.scrollTop < end; i++) {
      list.scrollTop += step;
      await frame();
      const now = performance.now();
      times.push(now - last);
      last = now;
      const box = list.getBoundingClientRect();
      const at = document.elementFromPoint(box.left + 60, box.top + box.height / 2);
      behind += at?.closest(".lane") ? 0 : 1; // a frame in which the middle of the sheet was empty
    }
    result.steps[`${step} px a frame`] = quantiles(times);
  }
  return { ...result, empty_frames: behind, elements: document.querySelectorAll("main *").length };
});
console.log(JSON.stringify({ machines: Number(count), marks: Number(count) * 25, answer_kB: Math.round(body.length / 1000), first_shown_ms: shown, ...frames }, null, 2));
await browser.close();
