// The page's texts without a browser: both catalogues have the same keys and the same places to fill in, every key that a view asks
// for is there, none is there that nobody asks for, and no view has a text of its own. Speaks TAP.
import { readFileSync, readdirSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const page = join(dirname(fileURLToPath(import.meta.url)), "..", "..", "page");
const files = (folder) => readdirSync(folder).flatMap((name) => {
  const path = join(folder, name);
  return name === "node_modules" ? [] : statSync(path).isDirectory() ? files(path) : name.endsWith(".js") ? [path] : [];
});
const sources = files(page).map((path) => ({ name: path.slice(page.length + 1), text: readFileSync(path, "utf8") }));
const [en, es] = ["en", "es"].map((name) => JSON.parse(readFileSync(join(page, "words", `${name}.json`), "utf8")));
const sorted = (set) => [...set].sort();
const results = [];
const test = (name, found) => results.push({ name, found });

test("English and Spanish have the same keys", [...Object.keys(en).filter((k) => !(k in es)).map((k) => `only English: ${k}`), ...Object.keys(es).filter((k) => !(k in en)).map((k) => `only Spanish: ${k}`)]);

const holes = (text) => sorted(new Set(text.match(/\{\w+\}/g) ?? [])).join(" ");
test("a text has the same places to fill in, in both", Object.keys(en).filter((k) => es[k] !== undefined && holes(en[k]) !== holes(es[k])).map((k) => `${k}: ${holes(en[k])} against ${holes(es[k])}`));
test("no text is empty", Object.keys(en).filter((k) => !en[k].trim() || !es[k]?.trim()));

// What t("...") and word("group", ...) ask for; t(`horizon.by.${name}`) stands for every key that begins so.
const asked = new Set();
const beginnings = new Set();
for (const { text } of sources) {
  for (const [, key] of text.matchAll(/\bt\(\s*"([^"]+)"/g)) { asked.add(key); }
  for (const [, key] of text.matchAll(/[?:,(]\s*"([a-z_]+\.[\w.-]+)"/g)) { if (key in en) { asked.add(key); } }
  for (const [, head] of text.matchAll(/`([a-z_]+\.[\w.-]*)\$\{/g)) { beginnings.add(head); }
  for (const [, group] of text.matchAll(/\bword\(\s*"([\w.]+)"/g)) { beginnings.add(`${group}.`); }
}
const plural = (key) => ["one", "other"].every((form) => `${key}.${form}` in en);
test("every key that is asked for is there", sorted(asked).filter((k) => !(k in en) && !plural(k)));
const used = (key) => {
  const bare = key.replace(/\.(one|other)$/, "");
  return asked.has(key) || asked.has(bare) || [...beginnings].some((head) => key.startsWith(head)) || sources.some(({ text }) => text.includes(`"${bare}"`) || text.includes(`"${key}"`));
};
test("no key is there that nobody asks for", Object.keys(en).filter((k) => !used(k)));

// Between the tags of a template, what is left when ${...} is taken out: two letters in a row are a text of its own.
function withoutHoles(text) {
  let out = "";
  let depth = 0;
  for (let i = 0; i < text.length; i++) {
    if (text[i] === "$" && text[i + 1] === "{") { depth++; i++; } else if (depth && text[i] === "{") { depth++; } else if (depth && text[i] === "}") { depth--; } else if (!depth) { out += text[i]; }
  }
  return out;
}
function bare(text) {
  const found = [];
  let from = 0;
  while ((from = text.indexOf("html`", from)) >= 0) {
    let i = from + 5;
    let depth = 0;
    while (i < text.length && !(text[i] === "`" && depth === 0)) {
      depth += text[i] === "{" && (depth > 0 || text[i - 1] === "$") ? 1 : 0;
      depth -= depth > 0 && text[i] === "}" ? 1 : 0;
      i++;
    }
    const own = withoutHoles(text.slice(from + 5, i));
    for (const [, between] of own.matchAll(/>([^<>]*)</g)) {
      if (/\p{L}{2}/u.test(between) && !/^[\s&]*$/.test(between)) { found.push(between.trim()); }
    }
    for (const [, attribute] of own.matchAll(/(?:aria-label|placeholder|title|alt)="([^"]*\p{L}{2}[^"]*)"/gu)) { found.push(attribute); }
    from += 5;
  }
  return found;
}
const NAMES = ["Wit", "mark", "true", "false"]; // the program's name; the values of a switch in the log
test("no view has a text of its own", sources.flatMap(({ name, text }) => bare(text).filter((b) => !NAMES.includes(b)).map((b) => `${name}: ${b}`)));

console.log(`TAP version 13\n1..${results.length}`);
for (const [i, { name, found }] of results.entries()) {
  console.log(`${found.length ? "not ok" : "ok"} ${i + 1} - ${name}`);
  for (const f of found) { console.log(`# ${f}`); }
}
process.exit(results.some((r) => r.found.length) ? 1 : 0);
