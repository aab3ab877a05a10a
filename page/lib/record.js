// Recording from the page: the depot writes the entry. `id` makes it idempotent, so that asking again after a lost answer adds nothing.
//   const { entry, state } = await record({ machine: "B-03", kind: "reading", body: { checkpoint, value, unit } });
import { send } from "./api.js";
import { entryRecorded } from "./ui.js";

const newId = () => globalThis.crypto?.randomUUID?.() ?? `${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 12)}`;

/** {entry, says, verdict, state}: the entry as the depot has it. Errors as of send. */
export async function record({ machine = null, kind, body, at = null, by = null }) {
  const asked = { id: newId(), machine, kind, body };
  const answer = await send("POST", ["record"], { ...asked, ...(at ? { at } : {}), ...(by ? { by } : {}) });
  entryRecorded(answer.entry);
  return { ...answer, state: "depot" };
}
