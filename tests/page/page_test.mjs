// The page in a real browser, over a real server: every view at both sizes, light and dark. Speaks TAP.
// Accessibility is judged by axe-core's rules (WCAG 2.2 A and AA among them); contrast and sizes are measured in the browser.
import { chromium } from "playwright-core";
import axe from "axe-core";
import { resolve } from "node:path";
import { serve } from "./depot.mjs";

const SIZES = {
  desk: { viewport: { width: 1440, height: 900 } },
  phone: { viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true },
};
const VIEWS = {
  settings: "#/settings",
  horizon: "#/",
  "horizon of a year, narrowed down": "#/?zoom=year&system=tyres",
  rounds: "#/rounds",
  today: "#/today",
  machines: "#/machines",
  "exhaust filters": "#/exhaust",
  "one exhaust filter": "#/m/B-03/exhaust",
  shelf: "#/shelf",
  machine: "#/m/B-03",
  card: "#/m/B-03/card",
  "a reading to record": "#/m/B-03/record?kind=reading&point=front-tyre-left",
  "work to record": "#/m/B-03/record?kind=done&task=change-engine-oil",
  "something of the depot to record": "#/record",
  log: "#/log",
  books: "#/books",
  manual: "#/m/B-03/manual",
  "a book's text": "#/books/brine6/text",
  "two editions": "#/books/brine6/compare",
  "two serial numbers": "#/books/brine6/compare?by=serials",
  "machine of a name with a slash": "#/m/M%2002%2Fb",
  round: "#/m/B-03/round?scope=250-h",
  "daily round": "#/m/B-03/round?scope=daily",
  why: "#/m/B-03/why/front-tyre-left",
  "no such machine": "#/m/X-9",
  "no such view": "#/nowhere",
};

const tests = [];
const test = (name, run) => tests.push({ name, run });

function equal(found, wanted, what) {
  if (JSON.stringify(found) !== JSON.stringify(wanted)) {
    throw new Error(`${what}: ${JSON.stringify(found)} instead of ${JSON.stringify(wanted)}`);
  }
}

/** One context for each size and scheme: what one page has fetched, the next has not to fetch. */
function contextOf(t, size, colorScheme) {
  const key = `${size} ${colorScheme}`;
  t.contexts[key] ??= t.browser.newContext({ ...SIZES[size], colorScheme, serviceWorkers: "block", reducedMotion: "reduce", locale: "en-GB" });
  return t.contexts[key];
}

/** A page at that size; whatever the console complains of is gathered in page.complaints. */
async function open(t, hash, size, colorScheme = "light") {
  const page = await (await contextOf(t, size, colorScheme)).newPage();
  page.setDefaultTimeout(15000);
  page.complaints = [];
  page.on("console", (m) => m.type() === "error" && !m.location().url.endsWith("/api/session") && page.complaints.push(m.text()));
  page.on("pageerror", (e) => page.complaints.push(String(e)));
  await page.goto(`${t.address}${hash}`);
  await page.waitForFunction(() => document.querySelector("main :is(h1, .trouble)") && !document.querySelector(".waiting"));
  return page;
}

/** Serious findings of axe, as texts. Its source is handed over as text: a script tag is what the policy forbids. */
async function findings(page) {
  await page.evaluate(axe.source);
  const found = await page.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  return found.violations.filter((v) => ["serious", "critical", "moderate"].includes(v.impact)).map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 160)} ${v.nodes[0].failureSummary}`);
}

for (const [name, hash] of Object.entries(VIEWS)) {
  for (const size of Object.keys(SIZES)) {
    test(`${name}, ${size}: complete, quiet, accessible, in reach`, async (t) => {
      const page = await open(t, hash, size, size === "phone" ? "dark" : "light");
      const asked = hash.includes("X-9") ? page.complaints.filter((c) => !c.includes("404")) : page.complaints;
      equal(asked, [], "console");
      equal(await page.locator("main h1").count(), 1, "headings of the first level");
      equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, "fits the width");
      equal(await findings(page), [], `axe, ${size === "phone" ? "dark" : "light"}`);
      const small = await page.evaluate(() =>
        [...document.querySelectorAll("a, button, input, summary")]
          .filter((n) => n.checkVisibility())
          .filter((n) => !n.matches(".skip"))
          .filter((n) => !n.matches(".sign, .out-block, .post, .band-names *")) // on the sheet of time: 24 px, and by keyboard
          .map((n) => ({ box: (n.closest(".machines a, label") ?? n).getBoundingClientRect(), text: n.outerHTML.slice(0, 80) }))
          .filter(({ box }) => box.height < (innerWidth < 800 ? 48 : 32) || box.width < 44)
          .map(({ text }) => text));
      equal(small, [], "targets that are too small");
    });
  }
}

test("today: what is open comes first, with the reason down to its source", async (t) => {
  const page = await open(t, "#/today", "phone");
  const line = page.locator(".group.out .line").first();
  equal((await line.innerText()).includes("bypass"), true, "the open bypass first");
  await line.focus();
  await page.keyboard.press("Enter");
  await page.waitForSelector(".reasons li");
  equal(await line.getAttribute("aria-expanded"), "true", "opened by keyboard");
  equal((await page.locator(".reasons .source").allInnerTexts()).some((s) => s.startsWith("entry ")), true, "an entry as a source");
  await page.keyboard.press("Enter");
  equal(await page.locator(".reasons").first().isVisible(), false, "closed again");
});

test("today: points of one service stand on one line and open to each", async (t) => {
  const page = await open(t, "#/today", "desk");
  const line = page.locator(".line", { hasText: /service, \d+ points/ }).first();
  const said = Number(/(\d+) points/.exec(await line.innerText())[1]);
  await line.click();
  equal(await page.locator(".points > li").count(), said, "as many points as said");
  await page.locator(".points .line").first().click();
  await page.waitForSelector(".points .reasons li");
});

test("a label's code opens its machine", async (t) => {
  const page = await open(t, "#witmark:BR6-02204", "phone");
  equal(await page.locator(".data-plate .number").innerText(), "B-03", "plate");
});

test("machine: the put-back list is in sight, wherever one scrolls", async (t) => {
  const page = await open(t, "#/m/B-03", "phone");
  for (const y of [0, 1200]) {
    await page.evaluate((to) => scrollTo(0, to), y);
    const box = await page.locator(".put-back-bar").boundingBox();
    equal(box.y + box.height <= 845 && box.y > 0, true, `bar at ${y}`);
  }
  equal((await page.locator(".put-back-bar").innerText()).includes("bypass"), true, "what is open");
  const other = await open(t, "#/m/M%2002%2Fb", "phone");
  equal(await other.locator(".put-back-bar").count(), 0, "no bar when nothing is open");
});

test("machine: what applies to this serial number, and its drawing with marks", async (t) => {
  const page = await open(t, "#/m/B-03", "desk");
  const card = await page.locator(".card").innerText();
  // books/brine6.yaml, hydraulic oil of the serial numbers from 02200 on
  equal(card.includes("VG 68"), true, "the oil of the late serial numbers");
  equal(card.includes("VG 46"), false, "not that of the early ones");
  equal(await page.locator(".plan img").evaluate((i) => i.complete && i.naturalWidth > 0), true, "the drawing is loaded");
  const inside = await page.evaluate(() => {
    const frame = document.querySelector(".plan .drawing").getBoundingClientRect();
    return [...document.querySelectorAll(".plan .drawing .mark")].map((m) => m.getBoundingClientRect()).every((m) => m.left > frame.left - 14 && m.right < frame.right + 14 && m.top > frame.top - 14 && m.bottom < frame.bottom + 14);
  });
  equal(inside, true, "marks lie on the drawing");
  equal(await page.locator(".plan .drawing .mark:not(.plain)").count(), await page.locator(".legend li").count(), "a line for each place that wants something");
});

/** A hash in a page that is open, and its view. */
async function turn(page, hash, selector) {
  await page.evaluate((to) => { location.hash = to; }, hash);
  await page.waitForSelector(selector);
}

test("record: a reading is judged while it is typed, and what is entered stands in the log", async (t) => {
  const page = await open(t, "#/m/B-03/record?kind=reading&point=front-tyre-left", "phone");
  const enter = page.getByRole("button", { name: "Enter it" });
  equal(await enter.isDisabled(), true, "nothing to enter yet");
  for (const key of ["1", ".", "9"]) {
    await page.locator(".pad-keys button", { hasText: key }).first().click();
  }
  // books/brine6.yaml: front tyres 1.4 .. 1.6 bar cold; without the tyre's temperature it can't be told
  await page.waitForSelector(".verdict.not-judged, .verdict.out");
  await page.locator(".reading-form .field input").first().fill("20");
  await page.waitForSelector(".verdict.out");
  equal((await page.locator(".verdict-word").innerText()).startsWith("out"), true, "the word, not the colour");
  await page.locator(".pad-keys .delete").click();
  await page.locator(".pad-keys .delete").click();
  await page.locator(".pad-keys .delete").click();
  for (const key of ["1", ".", "5"]) {
    await page.locator(".pad-keys button", { hasText: key }).first().click();
  }
  await page.waitForSelector(".verdict.in-limits");
  await enter.click();
  await page.waitForSelector(".made");
  equal((await page.locator(".made").innerText()).includes("1.5 bar"), true, "what was recorded is said");
  const log = await (await page.request.get(`${t.address}api/machines/B-03/entries?kind=reading&limit=1`)).json();
  equal([log.entries[0].body.value, log.entries[0].body.unit, log.entries[0].body.checkpoint], [1.5, "bar", "front-tyre-left"], "in the log");
});

test("log: an entry is corrected by another, which says why; the chains hold", async (t) => {
  const page = await open(t, "#/m/M%2002%2Fb/record?kind=note", "desk");
  await page.fill(".record textarea", "Gate left open");
  await page.getByRole("button", { name: "Enter it" }).click();
  await page.waitForSelector(".made");
  await turn(page, "#/log?kind=note", ".entry-line");
  await page.locator(".entry-line", { hasText: "Gate left open" }).click();
  await page.getByRole("button", { name: "Correct it" }).click();
  await page.locator(".correct input[name=text]").fill("Gate found open");
  await page.getByRole("button", { name: "Correct it" }).click(); // without a reason nothing is sent
  equal(await page.locator(".correct").count(), 1, "a reason is needed");
  await page.locator(".correct input[name=reason]").fill("it was open before");
  await page.getByRole("button", { name: "Correct it" }).click();
  await page.waitForSelector(".entry-line:has-text('Gate found open')");
  equal((await page.locator(".entry-line", { hasText: "Gate found open" }).innerText()).includes("(corrected)"), true, "it says that it was");
  await turn(page, "#/log?view=recorded&kind=note", ".entry-line:has-text('Gate left open')");
  await page.getByRole("button", { name: "Prove the chains" }).click();
  await page.waitForSelector(".proof strong");
  equal((await page.locator(".proof").innerText()).startsWith("All "), true, "proof");
  const exported = await (await page.request.get(`${t.address}api/export`)).text();
  equal(exported.includes("Gate left open") && exported.includes("it was open before"), true, "both are in the export");
});

test("a photo belongs to its entry", async (t) => {
  const page = await open(t, "#/m/M%2002%2Fb/record?kind=note", "phone");
  // A PNG of one pixel
  const png = Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==", "base64");
  await page.fill(".record textarea", "Dent in the left deck");
  await page.locator(".more summary").click();
  await page.setInputFiles("input[name=photo]", { name: "dent.png", mimeType: "image/png", buffer: png });
  await page.getByRole("button", { name: "Enter it" }).click();
  await page.waitForSelector(".made");
  await turn(page, "#/m/M%2002%2Fb", ".photo img");
  await page.locator(".photo img").scrollIntoViewIfNeeded();
  await page.waitForFunction(() => document.querySelector(".photo img").naturalWidth === 1);
  equal(await page.locator(".entry", { hasText: "Dent in the left deck" }).locator(".photo").count(), 1, "beside its entry");
});

test("put back from the bar at the lower edge", async (t) => {
  const page = await open(t, "#/m/M%2002%2Fb/record?kind=opened", "phone");
  await page.selectOption(".record select[name=what]", { index: 1 });
  await page.getByRole("button", { name: "Enter it" }).click();
  await page.waitForSelector(".put-back-bar");
  await page.locator(".put-back-bar button").click();
  await page.waitForFunction(() => document.querySelector(".record h2")?.innerText.toLowerCase() === "put back");
  await page.getByRole("button", { name: "Enter it" }).click();
  await page.waitForFunction(() => !document.querySelector(".put-back-bar"));
});

test("horizon: by keyboard through lanes and marks, and pointing tells what, when and how sure", async (t) => {
  const page = await open(t, "#/", "desk");
  await page.locator("[data-lane='0'] [data-item=name]").focus();
  await page.keyboard.press("ArrowDown");
  await page.waitForFunction(() => document.activeElement.closest("[data-lane]")?.dataset.lane === "1");
  await page.keyboard.press("Home");
  await page.waitForFunction(() => document.activeElement.closest("[data-lane]")?.dataset.lane === "0");
  await page.keyboard.press("ArrowRight");
  equal(await page.evaluate(() => document.activeElement.matches(".out-block, .sign")), true, "on a mark");
  const sign = page.locator(".sign:not(.many)[aria-label*='overdue']").first();
  await sign.hover();
  const tip = await page.locator(".tip").innerText();
  equal(tip.includes("overdue by"), true, "how sure");
  await sign.click();
  await page.waitForSelector(".details .reasons li");
  await page.keyboard.press("Escape");
  await page.waitForFunction(() => !document.querySelector(".details"));
  await page.getByRole("button", { name: "week", exact: true }).click();
  await page.waitForFunction(() => location.hash.includes("zoom=week"));
});

test("horizon: a visit is planned and taken out again", async (t) => {
  const page = await open(t, "#/", "desk");
  await page.locator(".sign").first().click();
  await page.locator(".plan-visit input[name=label]").fill("Try out the hoist");
  await page.locator(".plan-visit button").click();
  await page.waitForSelector(".post");
  await page.locator(".post").first().click({ position: { x: 10, y: 4 } });
  equal((await page.locator(".details").innerText()).includes("Try out the hoist"), true, "the post says what for");
  await page.getByRole("button", { name: "Take it out of the calendar" }).click();
  await page.waitForFunction(() => !document.querySelector(".post"));
});

test("horizon: narrowed down, only what fits is left", async (t) => {
  const page = await open(t, "#/?system=tyres", "desk");
  const answer = await (await page.request.get(`${t.address}api/horizon`)).json();
  const wanted = answer.lanes.filter((l) => l.marks.some((m) => m.system === "tyres")).length;
  equal(await page.locator(".lane").count(), wanted, "lanes");
  await page.getByLabel("system").selectOption("");
  await page.waitForFunction((n) => document.querySelectorAll(".lane").length === n, answer.lanes.length);
});

test("books: an edit that fails the checker is not saved; what is wrong stands beside its line", async (t) => {
  const page = await open(t, "#/books/lark72/text", "desk");
  await page.waitForSelector(".editor-counts span");
  const before = await page.inputValue(".editor textarea");
  const line = before.split("\n").findIndex((l) => l.startsWith("start:")) + 1;
  await page.fill(".editor textarea", before.replace(/^start: .*$/m, "start: nowhere-at-all"));
  await page.waitForSelector(".findings .line");
  equal((await page.locator(".findings").innerText()).includes(`line ${line}`), true, "the line is named");
  equal((await page.locator(".beside.error").innerText()).includes("nowhere-at-all"), true, "beside the line");
  equal(await page.getByRole("button", { name: "Save as the new edition" }).isDisabled(), true, "can't be saved");
  await page.fill(".editor textarea", before.replace(/^edition: .*$/m, "edition: 2027-12").replace(/^title: .*$/m, "title: Lark 72 mower, wide"));
  await page.waitForFunction(() => !document.querySelector(".findings .what strong")?.innerText.includes("error"));
  await page.getByRole("button", { name: "Save as the new edition" }).click();
  await page.waitForFunction(() => document.querySelector(".editor-head").innerText.includes("Saved"));
  await turn(page, "#/books/lark72/compare", ".compare");
  equal((await page.locator(".compare").first().innerText()).includes("Lark 72 mower, wide"), true, "the editions differ by the title");
});

test("manual: only what applies to the serial number, and found by words", async (t) => {
  const page = await open(t, "#/m/B-03/manual", "phone");
  const text = await page.locator("main").innerText();
  // books/brine6.yaml: the hydraulic oil of the serial numbers from 02200 on
  equal([text.includes("VG 68"), text.includes("VG 46")], [true, false], "oil of the late serial numbers");
  await page.locator(".manual-find input").fill("hydraulic oil vg");
  await page.waitForFunction(() => document.querySelectorAll(".manual-section").length === 1);
  equal(await page.locator(".manual-section .item").count() >= 1, true, "found");
  await page.locator(".manual-find input").fill("zzzz");
  await page.waitForFunction(() => document.querySelectorAll(".manual-section").length === 0);
});

test("contrast for sunlight: texts at least 7 to 1, drawing at least 3 to 1, by light and by night", async (t) => {
  const page = await open(t, "#/settings", "phone");
  for (const scheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: scheme });
    // Relative luminance and contrast as WCAG 2.2 defines them; 7 to 1 is its enhanced level (1.4.6), 3 to 1 that of drawing (1.4.11).
    const ratios = await page.evaluate(() => {
      const style = getComputedStyle(document.documentElement);
      const light = (name) => {
        const probe = document.body.appendChild(document.createElement("i"));
        probe.style.color = style.getPropertyValue(name);
        const [r, g, b] = getComputedStyle(probe).color.match(/\d+/g).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
        probe.remove();
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
      };
      const ratio = (a, b) => {
        const [x, y] = [light(a), light(b)].sort((p, q) => q - p);
        return (x + 0.05) / (y + 0.05);
      };
      const texts = [["--ink", "--paper"], ["--ink", "--sheet"], ["--ink", "--faint"], ["--second", "--paper"], ["--second", "--sheet"], ["--on-ink", "--ink"], ["--on-ink-second", "--ink"]];
      return { texts: texts.map(([a, b]) => [a, b, ratio(a, b), 7]), marks: [["--paint", "--paper", ratio("--paint", "--paper"), 3], ["--paint", "--sheet", ratio("--paint", "--sheet"), 3], ["--ink", "--bar", ratio("--ink", "--bar"), 3]] };
    });
    equal([...ratios.texts, ...ratios.marks].filter(([, , r, least]) => r < least), [], `too little contrast, ${scheme}`);
  }
});

test("find: a label that is scanned leads to its machine", async (t) => {
  const page = await open(t, "#/", "phone");
  await page.evaluate(() => {
    const canvas = document.createElement("canvas");
    const pen = canvas.getContext("2d");
    setInterval(() => pen.fillRect(Math.random() * 100, 0, 10, 10), 50);
    navigator.mediaDevices.getUserMedia = async () => canvas.captureStream(5);
    globalThis.BarcodeDetector = class { async detect() { return [{ rawValue: "witmark:BR6-02204" }]; } };
  });
  await turn(page, "#/settings", ".choices");
  await page.getByRole("button", { name: "Scan" }).click();
  await page.waitForSelector(".data-plate");
  equal(await page.locator(".data-plate .number").innerText(), "B-03", "plate");
});

test("find: typing a plate leads to its machine", async (t) => {
  const page = await open(t, "#/", "desk");
  await page.locator(".find input").fill("b03");
  await page.waitForSelector(".find li");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".data-plate");
  equal(await page.locator(".data-plate .number").innerText(), "B-03", "plate");
});

test("settings: Spanish, units of the US and dates as numbers hold on every view", async (t) => {
  const context = await t.browser.newContext({ ...SIZES.desk, locale: "en-GB" });
  const page = await context.newPage();
  await page.goto(`${t.address}#/settings`);
  await page.getByLabel("Español").check();
  await page.waitForFunction(() => document.documentElement.lang === "es");
  await page.getByLabel("de EE. UU.").check();
  await page.getByLabel("ISO 8601").check();
  // 1.45 bar are 21.03 psi (NIST SP 811: 1 psi = 6894.757 Pa)
  equal((await page.locator(".form .says").first().innerText()).includes("2027-04-02, 21,0 psi"), true, "how it looks");
  await page.goto(`${t.address}#/m/B-03/card`);
  await page.waitForSelector(".card table");
  await page.getByRole("button", { name: "Presiones y límites" }).click();
  equal((await page.locator(".card").innerText()).includes("psi"), true, "pressures in psi");
  await context.close();
});

test("a depot's texts are never markup", async (t) => {
  const page = await open(t, "#/m/B-03", "desk");
  equal(await page.title(), "B-03, Witmark", "title");
  const text = await page.locator("main").innerText();
  equal(text.includes("North <beach> & \"quay\""), true, "the site as written");
  equal(text.includes("<script>document.title"), true, "the note as written");
});

test("round: a change of condition is inverted, and cautions stand before what they guard", async (t) => {
  const page = await open(t, "#/m/B-03/round?scope=250-h", "phone");
  const { change, check } = await page.evaluate(() => ({
    change: getComputedStyle(document.querySelector(".step.change")).backgroundColor,
    check: getComputedStyle(document.querySelector(".step.check")).backgroundColor,
  }));
  equal([change, check], ["rgb(20, 32, 42)", "rgb(255, 253, 248)"], "grounds of a change and a check");
  const late = await page.evaluate(() =>
    [...document.querySelectorAll(".step .caution")].filter((c) => {
      const acts = c.closest(".acts > li");
      const guarded = acts ? acts.querySelector(".act") : c.closest(".step").querySelector("h3");
      return !(c.compareDocumentPosition(guarded) & Node.DOCUMENT_POSITION_FOLLOWING);
    }).length);
  equal(late, 0, "cautions that come late");
  equal(await page.locator(".step .caution").count() > 0, true, "there are cautions");
  equal(await page.locator(".caution").evaluateAll((all) => all.every((c) => /^(DANGER|WARNING|CAUTION|NOTICE)$/.test(c.querySelector(".signal").innerText.trim()))), true, "each with its signal word");
  equal(await page.locator(".caution:not(.notice)").evaluateAll((all) => all.every((c) => c.querySelector("svg"))), true, "and its symbol");
});

test("round: steps are those that the server computed, in its order", async (t) => {
  const page = await open(t, "#/m/B-03/round?scope=daily", "desk");
  const r = await (await page.request.get(`${t.address}api/machines/B-03/round?scope=daily`)).json();
  equal(await page.locator(".step h3").allInnerTexts(), r.steps.map((s) => s.label ?? s.act), "titles");
  equal(await page.locator(".step").evaluateAll((all) => all.map((s) => s.value)), r.steps.map((s) => s.n), "numbers");
});

test("round: drawings load where they are looked at", async (t) => {
  const page = await open(t, "#/m/B-03/round?scope=250-h", "phone");
  const where = page.locator(".where").first();
  await where.locator("summary").click();
  await where.locator("img").evaluate((i) => i.decode());
  equal(await where.locator(".drawing .mark").count(), 1, "one mark");
});

test("round: within so many hours", async (t) => {
  const page = await open(t, "#/m/B-03/round?scope=250-h", "phone");
  await page.fill("#within", "120");
  await page.click(".scope button");
  await page.waitForFunction(() => document.querySelector("h1")?.innerText.includes("120"));
  equal(await page.inputValue("#within"), "120", "the number stays");
});

test("the sheet is a PDF", async (t) => {
  const page = await open(t, "#/m/B-03/round?scope=daily", "desk");
  const href = await page.locator("a.button", { hasText: "Sheet" }).getAttribute("href");
  const answer = await page.request.get(`${t.address}${href}`);
  equal([answer.status(), answer.headers()["content-type"], (await answer.body()).subarray(0, 5).toString()], [200, "application/pdf", "%PDF-"], "answer");
});

test("what is wrong is said with what would be right", async (t) => {
  const page = await open(t, "#/m/B-04", "phone");
  const text = await page.locator(".trouble").innerText();
  equal(text.includes("B-04") && text.includes("B-03"), true, "names the machine and the nearest");
});

test("words: dates, times, counts", async (t) => {
  const page = await open(t, "#/machines", "desk");
  const found = await page.evaluate(async () => {
    const words = await import("/lib/words.js");
    const w = { ...(await import("/lib/format.js")), count: (n) => words.t("count.steps", { n }) };
    return [w.dayLong("2026-11-25"), w.dayWords("1970-01-01"), w.dayNumber("2000-03-01"), w.timeWords(59), w.timeWords(3600), w.timeWords(12895), w.count(1), w.count(0),
      w.proofWords({ proven: true }), w.proofWords({ proven: false, moves_s: 105, bound_s: 100 }), w.proofWords({ proven: false, moves_s: 400, bound_s: 100 })];
  });
  // 25 November 2026 is a Wednesday; 1 March 2000 is day 11017 (30 years of 365 days, 7 leap days, 60 days into a leap year)
  equal(found, ["Wednesday 25 Nov 2026", "1 Jan 1970", 11017, "59 s", "1 h 0 min", "3 h 35 min", "1 step", "0 steps",
    "the fastest safe order, proven", "a safe order, within 5 % of the fastest", "a safe order, not proven to be the fastest"], "words");
});

test("lines: a service's points come together from three on, in the list's order", async (t) => {
  const page = await open(t, "#/machines", "desk");
  const found = await page.evaluate(async () => {
    const { lines } = await import("/lib/group.js");
    const due = (machine, service, urgency, label) => ({ machine, service, urgency, label });
    return lines([due("a", "", 0, "1"), due("a", "s", 0, "2"), due("b", "s", 0, "3"), due("a", "s", 0, "4"), due("a", "s", 1, "5"), due("a", "s", 0, "6"), due("b", "s", 0, "7")])
      .map((l) => (l.points ? l.points.map((p) => p.label).join("") : l.due.label));
  });
  equal(found, ["1", "246", "3", "5", "7"], "lines");
});

test("a server that is gone is said, and the page lives on", async (t) => {
  const page = await open(t, "#/machines", "phone");
  await page.context().setOffline(true);
  await page.click("[data-tab=today]");
  await page.waitForSelector(".trouble");
  equal((await page.locator(".trouble").innerText()).includes("does not answer"), true, "words");
  await page.context().setOffline(false);
  await page.click("[data-tab=horizon]");
  await page.waitForSelector(".horizon");
});

// usage: page_test.mjs WITMARK [EXPRESSION]: only the tests whose name fits
if (process.argv[3]) {
  tests.splice(0, tests.length, ...tests.filter(({ name }) => new RegExp(process.argv[3]).test(name)));
}
const server = await serve(resolve(process.argv[2]));
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM, args: ["--no-sandbox"] });
const contexts = {};
let failures = 0;
console.log("TAP version 13");
console.log(`1..${tests.length + 1}`);
for (const [i, { name, run }] of tests.entries()) {
  try {
    await run({ browser, contexts, address: server.address });
    console.log(`ok ${i + 1} - ${name}`);
  } catch (error) {
    failures++;
    console.log(`not ok ${i + 1} - ${name}`);
    console.log(String(error.stack ?? error).replace(/^/gm, "# "));
  }
  for (const context of browser.contexts()) {
    await Promise.all(context.pages().map((page) => page.close()));
  }
}
await browser.close();
const status = await server.stop();
console.log(`${status === 0 ? "ok" : "not ok"} ${tests.length + 1} - the server ends cleanly (${status})`);
process.exit(failures || status ? 1 : 0);
