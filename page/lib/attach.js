// A photo or file to an entry: its bytes go to the depot under their SHA-256 first, then the entry that names them.
import { send } from "./api.js";
import { record } from "./record.js";
import { t } from "./words.js";

const hex = (bytes) => [...new Uint8Array(bytes)].map((b) => b.toString(16).padStart(2, "0")).join("");

/** file: a File; about: id of the entry it belongs to, or null; machine: serial number, or null. Errors have message and right. */
export async function attach({ file, about = null, machine = null }) {
  if (!globalThis.crypto?.subtle) {
    throw Object.assign(new Error(t("attach.no_crypto")), { right: t("attach.no_crypto.right") });
  }
  const bytes = await file.arrayBuffer();
  const sha256 = hex(await crypto.subtle.digest("SHA-256", bytes));
  const type = file.type || "application/octet-stream";
  await send("PUT", ["attachments", sha256], bytes, type);
  return record({ machine, kind: "attachment", body: { sha256, name: file.name.slice(-120) || "photo", type, bytes: bytes.byteLength, ...(about ? { about } : {}) } });
}
