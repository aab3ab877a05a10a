// Takes the pictures of the documents. usage: node shots.mjs ADDRESS FOLDER [all]
// With "all" every view at both sizes, light and dark, for a look while working on the page.
import { chromium } from "playwright-core";
import { mkdirSync } from "node:fs";

const [address, folder, all] = process.argv.slice(2);
if (!folder) {
  console.error("usage: node shots.mjs ADDRESS FOLDER [all]");
  process.exit(2);
}
const SIZES = {
  desk: { viewport: { width: 1440, height: 900 } },
  phone: { viewport: { width: 390, height: 844 }, deviceScaleFactor: 2, isMobile: true, hasTouch: true },
};
const PICTURES = [
  { name: "horizon", hash: "#/", size: "desk" },
  { name: "machine", hash: "#/m/B-03", size: "desk" },
  { name: "round-phone", hash: "#/m/B-03/round?scope=due", size: "phone", to: ".step.change" },
  { name: "reading-phone", hash: "#/m/B-03/record?kind=reading&point=return-gauge", size: "phone", type: "2.7", also: "31" },
  { name: "book-text", hash: "#/books/brine6/text", size: "desk" },
];
const VIEWS = ["#/", "#/?zoom=year", "#/today", "#/machines", "#/m/B-03", "#/m/B-03/card", "#/m/B-03/manual", "#/m/B-03/record", "#/m/B-03/record?kind=done&task=change-engine-oil", "#/m/B-03/round?scope=due", "#/m/B-03/why/bypass", "#/books", "#/books/brine6/text", "#/books/brine6/compare?by=serials", "#/log", "#/settings"];

async function picture(browser, { name, hash, size, to, type, also, scheme = "light", full = false }) {
  const context = await browser.newContext({ ...SIZES[size], colorScheme: scheme, reducedMotion: "reduce" });
  const page = await context.newPage();
  await page.goto(`${address}${hash}`);
  await page.waitForSelector("main :is(h1, .trouble)");
  await page.waitForLoadState("networkidle");
  for (const key of type ?? "") {
    await page.locator(".pad-keys button", { hasText: key }).first().click();
  }
  if (also) {
    await page.locator(".reading-form .field input").first().fill(also);
    await page.waitForTimeout(500);
  }
  if (to) {
    await page.locator(to).first().evaluate((node) => scrollTo(0, node.getBoundingClientRect().top + scrollY - 16));
    await page.waitForTimeout(300);
  }
  await page.screenshot({ path: `${folder}/${name}.png`, fullPage: full });
  await context.close();
}

mkdirSync(folder, { recursive: true });
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox"] });
try {
  const list = all
    ? VIEWS.flatMap((hash, i) => ["desk", "phone"].flatMap((size) => ["light", "dark"].map((scheme) => ({ name: `${i}-${size}-${scheme}`, hash, size, scheme, full: false }))))
    : PICTURES;
  for (const one of list) {
    await picture(browser, one);
  }
} finally {
  await browser.close();
}
