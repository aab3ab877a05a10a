// The page's texts. Every one stands in words/en.json and words/es.json under the same key; a view has none of its own.
//   t("horizon.title")                    "What runs out first"
//   t("count.machines", {n: 3})           "3 machines": a key with .one and .other is chosen by the number n
// Pure: the catalogue comes in by useWords (main.js reads it once; a test gives its own).

let words = {};
let language = "en";
let plural = new Intl.PluralRules("en");

export function useWordList(name, list) {
  language = name;
  words = list;
  plural = new Intl.PluralRules(name);
}

export const languageName = () => language;

/** Is there such a key? For words that come from the depot's data, like a kind of entry. */
export const hasWord = (key) => Object.hasOwn(words, key);

/** The text with {name} replaced. A key that is not there is shown as it is: a test finds it. */
export function t(key, values = {}) {
  const text = words[key] ?? words[`${key}.${plural.select(Math.abs(values.n ?? 0))}`] ?? words[`${key}.other`];
  if (text === undefined) {
    return key;
  }
  return text.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(values, name) ? String(values[name] ?? "") : whole));
}

/** The word for something that the program names: t(`${group}.${name}`) when there is one, else the name itself. */
export function word(group, name) {
  const key = `${group}.${String(name).replaceAll(" ", "_")}`;
  return hasWord(key) ? words[key] : String(name);
}
