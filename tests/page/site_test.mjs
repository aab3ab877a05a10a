// Over the network as a phone sees it: the site's own authority, TLS, a person who signs in; then the page works without a network.
// The browser is told to trust exactly the server's key, as a phone that has installed the authority does. Speaks TAP.
// usage: site_test.mjs WITMARK
import { chromium } from "playwright-core";
import { createHash, X509Certificate } from "node:crypto";
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { serve } from "./depot.mjs";

const PASSWORD = "round stone forty-two";

function equal(found, wanted, what) {
  if (JSON.stringify(found) !== JSON.stringify(wanted)) {
    throw new Error(`${what}: ${JSON.stringify(found)} instead of ${JSON.stringify(wanted)}`);
  }
}

const server = await serve(resolve(process.argv[2]), {
  before(run) {
    run(["authority", "make", "--name", "depot.local", "--address", "127.0.0.1"]);
    run(["person", "add", "Ines", "--role", "record"], `${PASSWORD}\n`);
  },
  words: ["--listen", "0.0.0.0"],
});
const address = server.address.replace("depot.local", "127.0.0.1");
const certificate = new X509Certificate(readFileSync(`${server.depot}.authority/server.crt`));
const key = createHash("sha256").update(certificate.publicKey.export({ type: "spki", format: "der" })).digest("base64");
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM, args: ["--no-sandbox", `--ignore-certificate-errors-spki-list=${key}`] });

console.log("TAP version 13\n1..3");
let failures = 0;
try {
  const context = await browser.newContext({ viewport: { width: 390, height: 844 }, isMobile: true, hasTouch: true, locale: "en-GB", reducedMotion: "reduce" });
  const page = await context.newPage();
  page.setDefaultTimeout(15000);
  await page.goto(`${address}#/phone`);
  await page.fill("input[name=name]", "Ines");
  await page.fill("input[type=password]", PASSWORD);
  await page.click("button[type=submit]");
  await page.waitForSelector("h1:has-text('This phone')");
  equal(address.startsWith("https:"), true, "over TLS");
  console.log("ok 1 - a person signs in over the site's own certificate");
  equal(await page.evaluate(async () => (await import("/lib/record.js")).whyNotOffline()), [], "nothing stands against offline use");
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller);
  await page.evaluate(async () => (await import("/lib/keep.js")).keepMachine("B-03"));
  await context.setOffline(true);
  await page.goto("about:blank");
  await page.goto(`${address}#/m/B-03/round/walk?scope=daily`);
  await page.click(".walk-begin button");
  await page.waitForSelector(".walk-tools [data-state=phone]");
  await context.setOffline(false);
  await page.evaluate(async () => (await import("/lib/record.js")).sendNow());
  await page.waitForSelector(".walk-tools [data-state=depot]");
  equal(server.verify(), "", "log verify");
  console.log("ok 2 - offline, a round begins; back, it is in the depot");
} catch (error) {
  failures++;
  console.log(`not ok ${failures} - the phone's way\n${String(error.stack ?? error).replace(/^/gm, "# ")}`);
}
await browser.close();
const status = await server.stop();
console.log(`${status === 0 ? "ok" : "not ok"} 3 - the server ends cleanly (${status})`);
process.exit(failures || status ? 1 : 0);
