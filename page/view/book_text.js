// A book as text, with the checker's findings beside the line. What is saved is a new edition; the one before stays.
import { classes, html, useEffect, useRef, useState, useTitle } from "../lib/ui.js";
import { address, may, send } from "../lib/api.js";
import { t } from "../lib/words.js";
import { Trouble, Waiting } from "../part/trouble.js";

const LEVELS = ["error", "warning", "hint"];
const MARKS = { error: "\u25cf", warning: "\u25b2", hint: "\u25cb" };

/** Findings by line: {line: {level, texts}}, the worst level of each. Pure. */
export function byLine(findings) {
  const lines = new Map();
  for (const f of findings) {
    const known = lines.get(f.line) ?? { level: f.level, texts: [] };
    known.level = LEVELS.indexOf(f.level) < LEVELS.indexOf(known.level) ? f.level : known.level;
    known.texts.push([f.what, f.right].filter(Boolean).join("; "));
    lines.set(f.line, known);
  }
  return lines;
}

async function textOf(book) {
  const answer = await fetch(address(["books", book, "text"]));
  if (!answer.ok) {
    const body = await answer.json().catch(() => null);
    throw Object.assign(new Error(body?.detail ?? t("api.status", { status: answer.status })), { right: body?.right });
  }
  return { text: await answer.text(), etag: answer.headers.get("etag") };
}

function Editor({ book, given, who, onSaved }) {
  const [text, setText] = useState(given.text);
  const [check, setCheck] = useState(null);
  const [error, setError] = useState(null);
  const [saved, setSaved] = useState("");
  const area = useRef(null);
  const turn = useRef(0);
  const writes = may(who, "books");
  useEffect(() => {
    const mine = ++turn.current;
    const timer = setTimeout(() => send("POST", ["books", "check"], text, "application/yaml").then((c) => {
      if (mine === turn.current) {
        setCheck(c);
        setError(null);
      }
    }, (wrong) => mine === turn.current && setError(wrong)), check ? 600 : 0);
    return () => clearTimeout(timer);
  }, [text]);
  const lines = text.split("\n");
  const found = byLine(check?.findings ?? []);
  const goTo = (n) => {
    const from = lines.slice(0, n - 1).reduce((sum, l) => sum + l.length + 1, 0);
    area.current.focus({ preventScroll: true });
    area.current.setSelectionRange(from, from + lines[n - 1].length);
    document.getElementById(`line-${n}`)?.scrollIntoView({ block: "center" });
  };
  async function save() {
    try {
      await send("PUT", ["books", book], text, "application/yaml", given.etag ? { "if-match": given.etag } : {});
      setError(null);
      setSaved(t("books.saved"));
      onSaved();
    } catch (wrong) {
      if (wrong.body?.check) {
        setCheck(wrong.body.check);
      }
      setError(wrong.body?.check ? Object.assign(new Error(t("books.refused")), { right: t("books.refused.right") }) : wrong);
    }
  }
  const counts = check ? LEVELS.map((l) => [l, check.findings.filter((f) => f.level === l).length]) : [];
  const changed = text !== given.text;
  return html`<div class="editor-head"><p role="status" class="editor-counts">${check ? counts.map(([l, n]) => html`<span class=${l}><span aria-hidden="true">${MARKS[l]}</span> ${t(`books.count.${l}`, { n })}</span>`) : t("waiting")}</p>
      ${writes ? html`<button type="button" class="button main" disabled=${!changed || !check || check.errors > 0} onClick=${save}>${t("books.save")}</button>` : html`<span class="says">${t("books.look_only")}</span>`}<span class="says" role="status">${changed ? t("books.changed") : saved}</span></div>
    ${error ? html`<${Trouble} error=${error} />` : null}
    <div class="editor-body"><div class="editor sheet"><div class="gutter" aria-hidden="true">${lines.map((_, i) => html`<span id=${`line-${i + 1}`} class=${found.get(i + 1)?.level ?? null}>${found.has(i + 1) ? MARKS[found.get(i + 1).level] : ""} ${i + 1}</span>`)}</div>
      <div class="writing"><textarea ref=${area} class="code" spellcheck=${false} autocapitalize="off" autocomplete="off" wrap="off" rows=${lines.length} aria-label=${t("books.text_of", { book })} readonly=${!writes} value=${text} onInput=${(e) => setText(e.target.value)}></textarea>
        ${[...found].map(([n, f]) => html`<span class=${classes("beside", f.level)} key=${n} aria-hidden="true" style=${{ top: `calc(${n - 1} * var(--line) + 0.5rem)`, left: `calc(${Math.min(lines[n - 1]?.length ?? 0, 120)}ch + 2.5rem)` }}>${f.texts[0]}</span>`)}</div></div>
      <aside class="findings sheet" aria-label=${t("books.findings")}><h2>${t("books.findings")}</h2>${check?.findings.length ? html`<ol>${check.findings.slice(0, 200).map((f) => html`<li><button type="button" class="line" onClick=${() => goTo(f.line)}><span class="what"><strong>${MARKS[f.level]} ${t(`books.level.${f.level}`)}, ${t("books.line", { n: f.line })}</strong> <span>${f.what}</span>${f.right ? html` <span class="says">${f.right}</span>` : null}</span></button></li>`)}</ol>` : html`<p class="empty">${check ? t("books.no_findings") : ""}</p>`}</aside></div>`;
}

export default function BookText({ params, who }) {
  const [given, setGiven] = useState(null);
  const [error, setError] = useState(null);
  useTitle(`${t("books.text")} ${params.book}`);
  const load = (first) => textOf(params.book).then((g) => setGiven((old) => (first || !old ? g : { ...old, text: g.text, etag: g.etag })), setError);
  useEffect(() => { load(true); }, [params.book]);
  return html`<div class="lead"><h1>${params.book}</h1><p>${t("books.text_says")}</p></div>${error ? html`<${Trouble} error=${error} />` : given ? html`<${Editor} book=${params.book} given=${given} who=${who} onSaved=${() => load(false)} />` : html`<${Waiting} />`}`;
}
