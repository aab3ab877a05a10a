// What stands around every view about the phone: where its entries are, and whether what is shown is old or can be opened
// without a network. Nothing is drawn while all is well.
import { Fragment, classes, html, useCallback, useEffect, useEvent, useState } from "../lib/ui.js";
import { keepMachine, keeping, keepingNow, keptMachines, letGo } from "../lib/keep.js";
import { changes, standing } from "../lib/record.js";
import { t } from "../lib/words.js";
import { Stripe } from "./stripe.js";
import { momentWords } from "../lib/format.js";

/** How this device's entries stand, as lib/record.js has it; null until it is known. */
export function useStanding() {
  const [now, set] = useState(null);
  const look = useCallback(() => standing().then(set), []);
  useEffect(() => { look(); }, []);
  useEvent("change", look, changes);
  return now;
}

export function useKeeping() {
  const [now, set] = useState(keepingNow());
  useEffect(() => set(keepingNow()), []); // it may have changed before anybody listened
  useEvent("change", () => set(keepingNow()), keeping);
  return now;
}

export const stateOf = (stand) => (stand.refused ? "refused" : stand.phone ? "phone" : "depot");

/** The stripe of all entries of this phone with its words. */
export function EntriesState({ stand }) {
  if (!stand) {
    return html`<span></span>`;
  }
  const state = stateOf(stand);
  const says = stand.refused ? t("phone.refused", { n: stand.refused }) : stand.phone ? t("phone.here", { n: stand.phone }) : t("stripe.depot");
  return html`<span class=${classes("entry-state", state)} data-state=${state}><${Stripe} bare state=${state} /><span>${says}</span></span>`;
}

/** In the head of the page: only when something waits or was refused. */
export function PhoneLink() {
  const stand = useStanding();
  return stand && stateOf(stand) !== "depot" ? html`<a class="phone-link" href="#/phone"><${EntriesState} stand=${stand} /></a>` : null;
}

/** Above a view: what is shown is old, or a newer page is here. */
export function OfflineNote() {
  const { asOf, fresh } = useKeeping();
  return html`<${Fragment}>${asOf ? html`<p class="offline-note" role="status">${t("offline.as_of", { at: momentWords(asOf) })}</p>` : null}
    ${fresh ? html`<p class="offline-note" role="status">${t("offline.fresh")} <button type="button" class="button small" onClick=${() => location.reload()}>${t("offline.fresh.take")}</button></p>` : null}<//>`;
}

/** Keep a machine on this phone, or let it go. name, serial: of the machine. Nothing where pages cannot be opened offline. */
export function KeepButton({ name, serial }) {
  const { ready } = useKeeping();
  const [kept, setKept] = useState(null);
  const [busy, setBusy] = useState(false);
  const [failed, setFailed] = useState(false);
  const look = useCallback(() => keptMachines().then((list) => setKept(list.some((m) => m.machine === serial))), [serial]);
  useEffect(() => { look(); }, [serial]);
  useEvent("change", look, keeping);
  if (!ready || kept === null) {
    return null;
  }
  const press = async () => {
    setBusy(true);
    setFailed(false);
    try {
      await (kept ? letGo(serial) : keepMachine(name));
    } catch {
      setFailed(true);
    }
    setBusy(false);
    look();
  };
  return html`<button type="button" class="button" aria-pressed=${kept ? "true" : "false"} disabled=${busy} onClick=${press}>${busy ? t("waiting") : kept ? t("phone.kept") : t("phone.keep")}</button>${failed ? html`<span class="trouble" role="alert">${t("phone.keep.failed")}</span>` : null}`;
}
