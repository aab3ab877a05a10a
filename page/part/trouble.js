// What went wrong and what would be right; and what stands while an answer is awaited.
import { html, useEffect, useState } from "../lib/ui.js";
import { t } from "../lib/words.js";

export const Trouble = ({ error }) => html`<div class="trouble" role="alert"><p><strong>${error.message}</strong></p>${error.right ? html`<p>${error.right}</p>` : null}</div>`;

/** Nothing for 300 ms, then a word. */
export function Waiting() {
  const [late, set] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => set(true), 300);
    return () => clearTimeout(timer);
  }, []);
  return html`<p class="waiting" aria-live="polite">${late ? t("waiting") : ""}</p>`;
}

/** An answer of useAsk: its trouble, or waiting, or what `children` (a function of the data) makes of it. whole: it is the whole
 *  view, so trouble needs a heading. */
export function Answer({ of, whole = false, children }) {
  if (of.error) {
    return html`${whole ? html`<h1>${t("not_shown")}</h1>` : null}<${Trouble} error=${of.error} />`;
  }
  return of.data ? children(of.data) : html`<${Waiting} />`;
}
