// Jump to a machine: by typing its plate or serial number, or by scanning its label where the browser can read codes
// (BarcodeDetector). What a label's code says is "witmark:SERIAL".
import { go, html, useEffect, useRef, useState } from "../lib/ui.js";
import { ask } from "../lib/api.js";
import { t } from "../lib/words.js";
import { machineAddress } from "./plate.js";

const MOST = 8;
const bare = (text) => text.toLowerCase().replace(/[^\p{L}\p{N}]/gu, "");

/** Machines whose plate, serial number, model or site fits what was typed; plates first. Pure. */
export function fitting(machines, text) {
  const wanted = bare(text);
  if (!wanted) {
    return [];
  }
  const rank = (m) => [m.name, m.serial, `${m.book?.title ?? ""}`, m.site ?? ""].findIndex((own, i) => (i < 2 ? bare(own).startsWith(wanted) : bare(own).includes(wanted)));
  const loose = (m) => (bare(m.name).includes(wanted) || bare(m.serial).includes(wanted) ? 4 : -1);
  return machines.map((m) => ({ m, r: rank(m) >= 0 ? rank(m) : loose(m) })).filter(({ r }) => r >= 0).sort((a, b) => a.r - b.r || a.m.name.localeCompare(b.m.name)).slice(0, MOST).map(({ m }) => m);
}

/** The serial number in a label's code; null when it is none of ours. Pure. */
export const labelled = (code) => /(?:^|#)witmark:(.+)$/.exec(code)?.[1] ?? null;

function Scanner({ onFound, onClose }) {
  const video = useRef(null);
  const [says, setSays] = useState(t("find.aim"));
  useEffect(() => {
    let stream = null;
    let timer = 0;
    const look = async (detector) => {
      const codes = await detector.detect(video.current).catch(() => []);
      const serial = codes.map((c) => labelled(c.rawValue)).find(Boolean);
      if (serial) {
        onFound(serial);
      } else {
        setSays(codes.length ? t("find.other_code") : t("find.aim"));
        timer = setTimeout(look, 200, detector);
      }
    };
    navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }).then(async (given) => {
      stream = given;
      video.current.srcObject = stream;
      await video.current.play();
      await look(new globalThis.BarcodeDetector({ formats: ["qr_code"] }));
    }).catch(() => setSays(t("find.no_camera")));
    return () => {
      clearTimeout(timer);
      stream?.getTracks().forEach((track) => track.stop());
    };
  }, []);
  return html`<div class="scanner"><video ref=${video} muted playsinline aria-label=${t("find.scan")}></video><p aria-live="polite">${says}</p><button type="button" class="button" onClick=${onClose}>${t("close")}</button></div>`;
}

export function Find() {
  const [text, setText] = useState("");
  const [machines, setMachines] = useState(null);
  const [at, setAt] = useState(0);
  const [scanning, setScanning] = useState(false);
  const found = machines ? fitting(machines, text) : [];
  const load = () => machines ?? ask(["machines"]).then(setMachines, () => setMachines([]));
  const open = (name) => {
    setText("");
    setScanning(false);
    document.activeElement?.blur();
    go(machineAddress(name));
  };
  const keys = (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step && found.length) {
      event.preventDefault();
      setAt((at + step + found.length) % found.length);
    } else if (event.key === "Enter" && (found.length || text)) {
      event.preventDefault();
      open(found[at]?.name ?? labelled(text) ?? text);
    } else if (event.key === "Escape") {
      setText("");
    }
  };
  return html`<div class="find" role="search">
    <input type="search" role="combobox" aria-label=${t("find.machine")} placeholder=${t("find.machine")} autocomplete="off" autocapitalize="characters" spellcheck=${false} value=${text}
      aria-expanded=${String(found.length > 0)} aria-controls="find-list" aria-activedescendant=${found.length ? `find-${at}` : null} onFocus=${load} onInput=${(e) => { setText(e.target.value); setAt(0); }} onKeyDown=${keys} />
    ${"BarcodeDetector" in globalThis && navigator.mediaDevices ? html`<button type="button" class="button small" onClick=${() => setScanning(true)}>${t("find.scan")}</button>` : null}
    <ul id="find-list" role="listbox" aria-label=${t("machines.title")} hidden=${!found.length}>${found.map((m, i) => html`<li id=${`find-${i}`} role="option" aria-selected=${String(i === at)} onMouseDown=${(e) => { e.preventDefault(); open(m.name); }}><span class="plate">${m.name}</span><span>${m.book?.title}<span class="says"> ${m.serial}</span></span></li>`)}</ul>
    ${scanning ? html`<${Scanner} onFound=${open} onClose=${() => setScanning(false)} />` : null}</div>`;
}
