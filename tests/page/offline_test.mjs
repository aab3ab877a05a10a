// The round in hand, in a real browser at a phone's size: offline, interrupted, on two phones, with a wrong clock and no room.
// Speaks TAP. On localhost a service worker runs without a certificate. usage: offline_test.mjs WITMARK
import { chromium } from "playwright-core";
import axe from "axe-core";
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { loadCore } from "../../page/lib/core.mjs";
import * as walk from "../../page/lib/walk.js";
import { serve } from "./depot.mjs";

const PHONE = { viewport: { width: 390, height: 844 }, deviceScaleFactor: 1, isMobile: true, hasTouch: true, locale: "en-GB", reducedMotion: "reduce" };
const LAUNCH = { executablePath: process.env.CHROMIUM, args: ["--no-sandbox"] };
const tests = [];
const test = (name, run) => tests.push({ name, run });

function equal(found, wanted, what) {
  if (JSON.stringify(found) !== JSON.stringify(wanted)) {
    throw new Error(`${what}: ${JSON.stringify(found)} instead of ${JSON.stringify(wanted)}`);
  }
}

async function phone(t, options = {}) {
  const context = await t.browser.newContext({ ...PHONE, ...options });
  return watch(await context.newPage());
}

function watch(page) {
  page.trouble = [];
  page.on("pageerror", (e) => page.trouble.push(String(e)));
  page.setDefaultTimeout(15000);
  return page;
}

/** Opens the round of a machine before it begins, and begins it. */
async function begin(page, address, scope, machine = "B-03") {
  await page.goto(`${address}#/m/${machine}/round/walk?scope=${scope}`);
  await page.click(".walk-begin button");
  await page.waitForSelector(".walk h1");
}

const standing = (page) => page.evaluate(async () => (await import("/lib/record.js")).standing());
const entries = (page) => page.evaluate(async () => (await (await (await import("/lib/record.js")).store()).entries()).map(({ entry, state }) => ({ ...entry, state })));
/** Until nothing waits on the phone. */
async function sent(page) {
  for (let i = 0; (await standing(page)).phone > 0; i++) {
    equal(i < 150, true, "sent within 15 s");
    await page.waitForTimeout(100);
  }
}
const ofDepot = async (address, query) => (await (await fetch(`${address}api/machines/B-03/entries?limit=500&${query}`)).json()).entries;

async function press(page, digits) {
  for (const d of digits) {
    await page.locator(".pad-keys button", { hasText: d === "." ? /^\.$/ : new RegExp(`^${d}$`) }).click();
  }
}

/** Does the step that is shown; what was on the screen. */
async function step(page, figure = "1.5") {
  const shown = await page.evaluate(() => ({ h1: document.querySelector(".walk h1").innerText, over: document.querySelector(".walk-over").innerText,
    kind: document.querySelector(".walk.change") ? "change" : document.querySelector(".walk-acts") ? "task" : document.querySelector(".pad") ? "measure" : "look" }));
  for (const read of await page.locator(".walk-body > .walk-read").all()) {
    await read.click();
  }
  if (shown.kind === "task") {
    while (await page.locator(".walk-act.now").count()) {
      const before = await page.locator(".walk-act.done").count();
      if (await page.locator(".walk-act.now .walk-read").count()) {
        await page.locator(".walk-act.now .walk-read").click();
      }
      await page.locator(".walk-act.now .walk-tick").click();
      await page.waitForFunction((n) => document.querySelectorAll(".walk-act.done").length > n, before);
    }
  } else if (shown.kind === "measure") {
    await press(page, figure);
  }
  await page.locator(".walk-main").click();
  await page.waitForFunction((before) => document.querySelector(".walk-sign") || document.querySelector(".walk-over")?.innerText !== before, shown.over);
  return shown;
}

async function walkToEnd(page, figure) {
  const all = [];
  while (!(await page.locator(".walk-sign").count())) {
    all.push(await step(page, figure));
  }
  return all;
}

/** The service worker has all of the page, and the machine is kept. */
async function keep(page, address, machine = "B-03") {
  await page.goto(`${address}#/phone`);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  await page.evaluate(async (name) => (await import("/lib/keep.js")).keepMachine(name), machine);
}

/** Kills every process of the browser that has this profile, at once: an empty battery. */
function killUsing(profile) {
  let killed = 0;
  for (const id of readdirSync("/proc").filter((name) => /^\d+$/.test(name))) {
    try {
      if (readFileSync(`/proc/${id}/cmdline`, "utf8").includes(profile)) {
        process.kill(Number(id), "SIGKILL");
        killed++;
      }
    } catch {
      // It has ended by itself.
    }
  }
  equal(killed > 0, true, "a browser was killed");
}

async function findings(page) {
  await page.evaluate(axe.source);
  const found = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  return found.violations.filter((v) => ["serious", "critical", "moderate"].includes(v.impact)).map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 160)} ${v.nodes[0].failureSummary}`);
}

test("a whole round with no network at all, then sent; the depot verifies it", async (t) => {
  const page = await phone(t);
  await keep(page, t.address);
  await page.context().setOffline(true);
  await page.goto("about:blank");
  await begin(page, t.address, "daily");
  const walked = await walkToEnd(page);
  equal(walked.some((s) => s.kind === "change") && walked.some((s) => s.kind === "look"), true, "changes and looks");
  equal((await page.locator(".walk-where-is").innerText()).includes("only on this phone"), true, "the state is in sight");
  await page.fill(".walk-sign textarea", "the bypass stays open until Thursday");
  await page.click(".walk-sign .walk-main");
  await page.waitForSelector("h1:has-text('signed')");
  const made = await entries(page);
  equal([...new Set(made.map((e) => e.state))], ["phone"], "all on this phone only");
  equal(made.map((e) => e.seq), made.map((_, i) => i + 1), "one chain without a gap");
  await page.context().setOffline(false);
  await sent(page);
  const there = new Map((await ofDepot(t.address, "view=recorded")).map((e) => [e.id, e.hash]));
  equal(made.filter((e) => there.get(e.id) !== e.hash).length, 0, "every entry is in the depot as it was signed");
  equal(await page.evaluate(async () => (await import("/lib/record.js")).standing().then((s) => [s.depot > 0, s.refused])), [true, 0], "and the phone says so");
  equal(t.verify(), "", "log verify");
  equal(page.trouble, [], "no error");
});

test("the network is cut in the middle, the server goes away and comes back: nothing is lost or doubled", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "daily");
  await step(page);
  await sent(page);
  await page.context().route("**/api/entries", (route) => route.abort());
  await step(page);
  await step(page);
  equal((await standing(page)).phone > 0, true, "entries wait");
  await page.waitForFunction(() => document.querySelector(".walk-tools [data-state=phone]"));
  let lost = 0;
  await page.context().route("**/api/entries", async (route) => { // goes before the route above: the depot takes them, but its answer is lost
    await route.fetch();
    lost++;
    await route.abort();
  });
  for (let i = 0; lost === 0 && i < 100; i++) { // another sending may be under way
    await page.evaluate(async () => (await import("/lib/record.js")).sendNow());
    await page.waitForTimeout(100);
  }
  await page.context().unroute("**/api/entries");
  await page.evaluate(async () => (await import("/lib/record.js")).sendNow());
  await sent(page);
  equal(lost > 0, true, "sent twice");
  const made = (await entries(page)).map((e) => e.id);
  const there = (await ofDepot(t.address, "view=recorded")).map((e) => e.id);
  equal(made.map((id) => there.filter((x) => x === id).length), made.map(() => 1), "each once");
  equal(t.verify(), "", "log verify");
});

test("the browser is killed in the middle and the round goes on where it was", async (t) => {
  const profile = mkdtempSync(join(tmpdir(), "witmark-profile-"));
  let context = await chromium.launchPersistentContext(profile, { ...LAUNCH, ...PHONE });
  let page = watch(context.pages()[0] ?? await context.newPage());
  await begin(page, t.address, "daily");
  await context.route("**/api/entries", (route) => route.abort());
  await step(page);
  await step(page);
  const before = { over: await page.locator(".walk-over").innerText(), url: page.url(), made: await entries(page) };
  killUsing(profile);
  await context.close().catch(() => {});
  context = await chromium.launchPersistentContext(profile, { ...LAUNCH, ...PHONE });
  page = watch(context.pages()[0] ?? await context.newPage());
  await page.goto(before.url);
  await page.waitForSelector(".walk h1");
  equal(await page.locator(".walk-over").innerText(), before.over, "the same step");
  equal((await entries(page)).map((e) => e.hash), before.made.map((e) => e.hash), "the same entries");
  await sent(page);
  await step(page);
  const chain = await entries(page);
  equal(chain.map((e) => e.prev).slice(1), chain.map((e) => e.hash).slice(0, -1), "the chain goes on");
  await context.close();
  rmSync(profile, { recursive: true, force: true });
});

test("a change that cannot be made takes with it what needs it, and nothing else", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "fan-belt,fuses,cab-filter-look,front-tyre-left".replace("cab-filter-look,", ""));
  const shown = [];
  let refused = false;
  while (!(await page.locator(".walk-sign").count())) {
    const h1 = await page.locator(".walk h1").innerText();
    if (/raise the body/i.test(h1) && !refused) {
      refused = true;
      const over = await page.locator(".walk-over").innerText();
      await page.locator(".walk-tool", { hasText: "Can't" }).click();
      await page.locator(".walk-choices button").first().click();
      await page.fill(".walk-panel textarea", "the lift cylinder leaks");
      await page.locator(".walk-panel .walk-main").click();
      await page.waitForFunction((b) => document.querySelector(".walk-sign") || document.querySelector(".walk-over")?.innerText !== b, over);
    } else {
      shown.push((await step(page)).h1);
    }
  }
  equal(refused, true, "the body was to be raised");
  equal(shown.some((h) => /fan belt/i.test(h)), false, "never under a body that is not propped");
  equal(shown.some((h) => /tyre/i.test(h)), true, "the rest is done");
  equal(/Fan belt/.test(await page.locator("main").innerText()), true, "and what is left is said");
  equal(await page.locator(".walk-sign .walk-main").isDisabled(), true, "no end without a reason");
});

test("whatever is skipped, no step is offered that the machine's condition does not allow", async (t) => {
  const seed = Number(process.env.WITMARK_SEED ?? 20261125);
  console.log(`# WITMARK_SEED=${seed}`);
  let x = seed;
  const chance = () => { // a linear congruential generator (Numerical Recipes), enough to choose
    x = (1664525 * x + 1013904223) % 2 ** 32;
    return x / 2 ** 32;
  };
  const core = await loadCore(await (await fetch(`${t.address}core.wasm`)).arrayBuffer());
  let left = 0;
  let replanned = 0;
  for (const scope of ["daily", "250-h"]) {
    const doc = await (await fetch(`${t.address}api/machines/B-03/round/work?scope=${scope}`)).json();
    for (let round = 0; round < 12; round++) {
      const acts = [];
      let plan = walk.nextPlan(doc, acts, null, core);
      for (let n = 0; plan.order.length; n++) {
        const before = plan.order;
        equal(walk.whyNot(doc, acts, plan.order[0]), "", `${scope}, round ${round}, step ${n}`);
        const made = walk.conditionAfter(doc, acts);
        equal(doc.rules.never.some((v) => v.when.every((mask, i) => mask === 0 || (mask >> made[i]) & 1)), false, "never such a condition");
        acts.push({ key: walk.keyOf(doc, plan.order[0]), outcome: chance() < 0.08 ? "not-done" : "done" });
        plan = walk.nextPlan(doc, acts, plan, core);
        replanned += JSON.stringify(plan.order) !== JSON.stringify(before.slice(1)) ? 1 : 0;
        equal(n < 200, true, "it comes to an end");
      }
      left += plan.left.length;
      const settled = new Set(acts.map((a) => a.key));
      equal(doc.points.filter((p, i) => !settled.has(p.key) && !plan.left.some((l) => l.ref.point === i)).map((p) => p.key), [], "each point is done, skipped or said to be left");
    }
  }
  equal(left > 0 && replanned > 0, true, "something was left and ordered anew");
});

test("the caution is read before the button wakes; a change fills the screen in ink", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "250-h");
  while (!(await page.locator(".walk.change .walk-read").count())) {
    await step(page);
  }
  equal(await page.locator(".walk-main").isDisabled(), true, "asleep");
  equal(await page.evaluate(() => getComputedStyle(document.querySelector(".walk.change")).backgroundColor), "rgb(20, 32, 42)", "ink");
  equal(await findings(page), [], "axe on a change");
  await page.click(".walk-read");
  equal(await page.locator(".walk-main").isDisabled(), false, "awake");
  const small = async () => page.evaluate(() => [...document.querySelectorAll(".walk a, .walk button, .walk label, .walk summary")].filter((n) => n.checkVisibility() && !n.closest(".walk-own")).map((n) => ({ r: n.getBoundingClientRect(), h: n.outerHTML.slice(0, 90) })).filter(({ r }) => r.height < 55.5 || r.width < 55.5).map(({ h }) => h));
  equal(await small(), [], "targets under 56 px");
  await step(page);
  for (let i = 0; i < 6 && !(await page.locator(".pad").count()); i++) {
    await step(page);
  }
  equal(await findings(page), [], "axe on a check");
  equal(await small(), [], "targets under 56 px");
  equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, "fits the width");
});

test("a hostile reading is not recorded, a wild one is judged", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "front-tyre-left");
  while (!(await page.locator(".pad").count())) {
    await step(page);
  }
  for (const read of await page.locator(".walk-body > .walk-read").all()) {
    await read.click();
  }
  equal(await page.locator(".walk-main").isDisabled(), true, "nothing typed");
  await page.locator(".pad-keys button").first().focus();
  await page.keyboard.type("a;<b>1e999psi");
  equal(await page.locator(".pad output").innerText(), "1999", "letters and signs do not arrive");
  equal(/not judged/i.test(await page.locator(".walk-word").innerText()), true, "outside the gauge's range");
  const { typed } = await page.evaluate(async () => {
    const { typed: one } = await import("/lib/walk.js");
    return { typed: ["1e999", "0x10", "1,4", "NaN", "", "-", "99999999", "1.2.3", " 1.5 ", "1 bar", "Infinity", "-0.5"].map((s) => one(s).value ?? one(s).wrong) };
  });
  equal(typed, ["number", "number", 1.4, "number", "empty", "empty", "size", "number", 1.5, "number", "number", -0.5], "figures as typed");
  for (let i = 0; i < 4; i++) {
    await page.locator(".pad-keys .delete").click();
  }
  await press(page, "1.5");
  equal(/in limits|close|out|not judged/i.test(await page.locator(".walk-word strong").innerText()), true, "the verdict while typing");
});

test("what opens stays on the put-back list and refuses the end until it is back", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "change-cab-filter");
  while (!(await page.locator(".walk-acts").count())) {
    await step(page);
  }
  for (const read of await page.locator(".walk-body > .walk-read").all()) {
    await read.click();
  }
  await page.locator(".walk-act.now .walk-tick").click();
  await page.waitForSelector(".walk-act.done");
  equal((await page.locator(".walk-open").innerText()).includes("filter door"), true, "on the list at once");
  await page.locator(".walk-tool", { hasText: "Steps" }).click();
  await page.locator("button", { hasText: "End the round here" }).click();
  equal(await page.locator(".walk-sign .walk-main").isDisabled(), true, "refused");
  equal((await page.locator(".walk-put-back").innerText()).includes("filter door"), true, "and says what is open");
  await page.locator(".walk-put-back li", { hasText: "filter door" }).locator("button").click();
  await page.waitForFunction(() => !document.querySelector(".walk-put-back").innerText.includes("filter door"));
  equal(await findings(page), [], "axe at the end");
});

test("undo is a correction: the entry stays, withdrawn, and the step comes back", async (t) => {
  const page = await phone(t);
  await begin(page, t.address, "daily");
  const first = await step(page);
  await page.locator(".walk-tool", { hasText: "Undo" }).click();
  await page.waitForFunction((h) => document.querySelector(".walk h1")?.innerText === h, first.h1);
  const made = await entries(page);
  const voided = made.filter((e) => e.kind === "correction").map((e) => e.body.corrects);
  equal(made.filter((e) => e.kind === "round" && e.body.is === "step").map((e) => voided.includes(e.id)), [true], "withdrawn");
  await sent(page);
  equal((await standing(page)).refused, 0, "the depot takes it");
});

test("two phones: one begins, the other goes on, both chains verify", async (t) => {
  const [one, two] = [await phone(t), await phone(t)];
  await begin(one, t.address, "daily");
  await step(one);
  await step(one);
  await sent(one);
  const next = await one.locator(".walk h1").innerText();
  await two.goto(`${t.address}#/m/B-03/round/walk?scope=daily`);
  await two.locator(".walk-going a").first().click();
  await two.waitForSelector(".walk h1");
  equal(await two.locator(".walk h1").innerText(), next, "the second phone goes on where the first was");
  await step(two);
  await step(one);
  await Promise.all([sent(one), sent(two)]);
  const writers = new Set((await ofDepot(t.address, "view=recorded")).map((e) => e.writer));
  equal([(await entries(one))[0].writer, (await entries(two))[0].writer].every((w) => writers.has(w)), true, "two writers");
  equal(t.verify(), "", "log verify");
});

test("two tabs of one phone do not fork its chain", async (t) => {
  const page = await phone(t);
  await page.goto(`${t.address}#/phone`);
  const other = watch(await page.context().newPage());
  await other.goto(`${t.address}#/phone`);
  const write = (p, n) => p.evaluate(async (k) => {
    const { recordAll } = await import("/lib/record.js");
    await Promise.all(Array.from({ length: k }, (_, i) => recordAll([{ machine: "B-03", kind: "note", body: { text: `note ${i}` } }])));
  }, n);
  await Promise.all([write(page, 8), write(other, 8)]);
  const made = await entries(page);
  equal(made.map((e) => e.seq).sort((a, b) => a - b), made.map((_, i) => i + 1), "each number once");
  await sent(page);
  equal(t.verify(), "", "log verify");
});

test("no room left: nothing half-written, and the depot takes it at once when it can be reached", async (t) => {
  const page = await phone(t);
  await page.goto(`${t.address}#/phone`);
  const found = await page.evaluate(async () => {
    const { record, recordAll, entryState, store } = await import("/lib/record.js");
    await recordAll([{ machine: "B-03", kind: "note", body: { text: "before" } }]);
    const put = IDBObjectStore.prototype.add;
    IDBObjectStore.prototype.add = function full() { throw new DOMException("no room", "QuotaExceededError"); };
    const straight = await record({ machine: "B-03", kind: "note", body: { text: "straight" } });
    const away = globalThis.fetch;
    globalThis.fetch = () => Promise.reject(new TypeError("no network"));
    const error = await record({ machine: "B-03", kind: "note", body: { text: "lost" } }).catch((e) => e);
    globalThis.fetch = away;
    IDBObjectStore.prototype.add = put;
    const after = await record({ machine: "B-03", kind: "note", body: { text: "after" } });
    const all = await (await store()).entries();
    return { straight: straight.state, error: [error.kind, Boolean(error.right)], states: all.map((r) => r.entry.body.text), seq: all.map((r) => r.entry.seq), state: await entryState(after.entry.id) };
  });
  equal([found.straight, found.error, found.states, found.seq], ["depot", ["full", true], ["before", "after"], [1, 2]], "what became of each");
  await sent(page);
  equal((await ofDepot(t.address, "kind=note")).some((e) => e.body.text === "straight"), true, "the depot has it");
});

test("a clock that is wrong is said; entries keep the time they were made", async (t) => {
  const page = await phone(t);
  await page.clock.install({ time: new Date(Date.now() - 3 * 3600000) });
  await page.goto(`${t.address}#/phone`);
  const made = await page.evaluate(async () => (await import("/lib/record.js")).recordAll([{ machine: "B-03", kind: "note", body: { text: "three hours ago" } }]));
  await page.clock.runFor(500);
  await page.waitForFunction(() => document.querySelector(".phone-clock"), null, { polling: 100 });
  equal(/180 min behind/.test(await page.locator(".phone-clock").innerText()), true, "words");
  const there = (await ofDepot(t.address, "kind=note")).find((e) => e.id === made[0].entry.id);
  equal([there.made, there.hash], [made[0].entry.made, made[0].entry.hash], "as it was signed");
});

test("a refused entry is torn, with the reason and what to do", async (t) => {
  const page = await phone(t);
  await page.goto(`${t.address}#/phone`);
  await page.evaluate(async () => (await import("/lib/record.js")).recordAll([{ machine: "B-03", kind: "reading", body: { checkpoint: "front-tyre-left", value: 1.5, unit: "baar" } }]));
  await page.waitForSelector(".phone-why");
  const why = await page.locator(".phone-why").innerText();
  equal(why.includes("baar") && why.includes("bar"), true, "what and right");
  equal(await page.locator(".phone-link [data-state=refused]").count(), 1, "in sight at the top");
  equal(await findings(page), [], "axe");
});

test("an entry of somebody else waits until that one signs in", async (t) => {
  const page = await phone(t);
  await page.goto(`${t.address}#/phone`);
  await page.context().route("**/api/session", async (route) => {
    const answer = await route.fetch();
    await route.fulfill({ response: answer, json: { ...(await answer.json()), name: "Ines", role: "record" } });
  });
  await page.evaluate(async () => (await import("/lib/record.js")).recordAll([{ machine: "B-03", by: "Joaquim", kind: "note", body: { text: "his" } }, { machine: "B-03", kind: "note", body: { text: "hers" } }]));
  await page.waitForSelector("text=Waits for Joaquim");
  equal(await standing(page).then((s) => [s.phone, s.depot, s.refused]), [1, 1, 0], "hers is safe, his waits");
  await page.context().unroute("**/api/session");
  await page.evaluate(async () => (await import("/lib/record.js")).sendNow());
  await sent(page);
  equal(await standing(page).then((s) => [s.phone, s.depot, s.refused]), [0, 2, 0], "both are safe");
});

test("machines that are kept open without a network, with their age; others say what is wrong", async (t) => {
  const page = await phone(t);
  await keep(page, t.address);
  await page.context().setOffline(true);
  await page.goto("about:blank");
  await page.goto(`${t.address}#/m/B-03`);
  await page.waitForSelector(".data-plate .number");
  await page.waitForSelector(".offline-note");
  await page.goto(`${t.address}#witmark:BR6-02204`);
  await page.waitForSelector(".data-plate .number");
  for (const view of ["card", "exhaust", "adjust", "adjust/rake-counterbalance", "recover", "putback", "trace", "trace/rake-hunts", "manual", "record", "round?scope=daily"]) {
    await page.goto("about:blank");
    await page.goto(`${t.address}#/m/B-03/${view}`);
    await page.waitForSelector("main h1");
    await page.waitForSelector(".offline-note");
    equal(await page.locator("main .trouble").allInnerTexts(), [], `${view} opens from what was kept`);
  }
  await page.goto(`${t.address}#/m/M%2002%2Fb`);
  await page.waitForSelector(".trouble");
  await page.context().setOffline(false);
});

test("a newer edition of the page is fetched whole, said, and takes effect when it is opened again", async (t) => {
  const files = mkdtempSync(join(tmpdir(), "witmark-files-"));
  cpSync(join(dirname(fileURLToPath(import.meta.url)), "..", "..", "page"), files, { recursive: true, filter: (path) => !path.includes("node_modules") });
  const server = await serve(resolve(process.argv[2]), { words: ["--files", files] });
  try {
    const page = await phone(t);
    await page.goto(`${server.address}#/phone`);
    await page.evaluate(() => navigator.serviceWorker.ready);
    await page.waitForFunction(() => navigator.serviceWorker.controller);
    const words = join(files, "words", "en.json");
    writeFileSync(words, readFileSync(words, "utf8").replace('"phone.title": "This phone"', '"phone.title": "This telephone"'));
    await page.reload();
    await page.waitForSelector(".offline-note button");
    await page.click(".offline-note button");
    await page.waitForSelector("h1:has-text('This telephone')");
    await page.context().setOffline(true);
    await page.reload();
    await page.waitForSelector("h1:has-text('This telephone')");
  } finally {
    await server.stop();
    rmSync(files, { recursive: true, force: true });
  }
});

test("where it is no secure context the page says why, and the depot writes what is entered", async (t) => {
  const context = await t.browser.newContext({ ...PHONE });
  const page = watch(await context.newPage());
  await page.addInitScript(() => { // as on http://192.168.1.20:8075
    Object.defineProperty(globalThis, "isSecureContext", { value: false });
    Object.defineProperty(crypto, "subtle", { value: undefined });
    delete Navigator.prototype.serviceWorker;
    delete Navigator.prototype.locks;
  });
  await page.goto(`${t.address}#/phone`);
  await page.waitForSelector("text=without a certificate");
  await context.route("**/api/record", (route) => route.abort());
  await page.evaluate(async () => (await import("/lib/record.js")).recordAll([{ machine: "B-03", kind: "note", body: { text: "unsigned" } }]));
  equal((await standing(page)).phone, 1, "kept in the queue");
  await context.unroute("**/api/record");
  await page.evaluate(async () => (await import("/lib/record.js")).sendNow());
  await sent(page);
  equal((await ofDepot(t.address, "kind=note")).filter((e) => e.body.text === "unsigned").length, 1, "once in the depot");
  await page.evaluate(async () => {
    const { recordAll, store } = await import("/lib/record.js");
    const [note] = await (await store()).entries();
    await recordAll([{ machine: "B-03", kind: "correction", body: { corrects: note.id, reason: "not so", void: true } }]);
  });
  await sent(page);
  equal((await standing(page)).refused, 0, "the depot knows what is meant");
  equal((await ofDepot(t.address, "kind=note")).filter((e) => e.body.text === "unsigned").length, 0, "withdrawn");
});

test("the verdicts of the browser are those of the program", async (t) => {
  const page = await phone(t);
  await page.goto(`${t.address}#/phone`);
  const doc = await (await fetch(`${t.address}api/machines/B-03/round/work?scope=250-h`)).json();
  const rows = doc.points.filter((p) => p.judge).flatMap((p) => [p.read.low, p.read.high, p.read.want_value].filter((v) => v !== null && v !== undefined).flatMap((v) => [v, v * 1.01, v * 0.5]).map((value) => ({ step: p, value })));
  const browser = await page.evaluate(async (list) => {
    const [{ loadCore }, { verdictOf }] = await Promise.all([import("/lib/core.mjs"), import("/lib/walk.js")]);
    const core = await loadCore(fetch("/core.wasm"));
    return list.map(({ step: s, value }) => verdictOf(core, s, value, {}).verdict);
  }, rows);
  const program = [];
  for (const { step: s, value } of rows) {
    const answer = await page.request.post(`${t.address}api/record`, { headers: { "x-witmark-token": t.csrf, origin: t.address.replace(/\/$/, "") }, data: { machine: "B-03", kind: "reading", body: { checkpoint: s.name, value, unit: s.unit } } });
    program.push((await answer.json()).verdict?.word);
  }
  equal(rows.length > 4, true, "some readings");
  equal(browser, program, "verdicts");
});

const server = await serve(resolve(process.argv[2]));
server.csrf = (await (await fetch(`${server.address}api/session`)).json()).csrf;
const browser = await chromium.launch(LAUNCH);
let failures = 0;
const only = process.argv[3];
const wanted = tests.filter((one) => !only || one.name.includes(only));
console.log("TAP version 13");
console.log(`1..${wanted.length + 1}`);
for (const [i, { name, run }] of wanted.entries()) {
  try {
    await run({ browser, ...server });
    console.log(`ok ${i + 1} - ${name}`);
  } catch (error) {
    failures++;
    console.log(`not ok ${i + 1} - ${name}`);
    console.log(String(error.stack ?? error).replace(/^/gm, "# "));
  }
  for (const context of browser.contexts()) {
    await context.close();
  }
}
await browser.close();
const status = await server.stop();
console.log(`${status === 0 ? "ok" : "not ok"} ${wanted.length + 1} - the server ends cleanly (${status})`);
process.exit(failures || status ? 1 : 0);
