// A photo or file to an entry: kept on this device with the entry that names it by its SHA-256, then sent. A photo is made smaller
// first; any other file goes as it is.
import { hex, sha256 } from "./chain.js";
import { photoOf } from "./photo.js";
import { record } from "./record.js";

const TYPES = /^image\/(png|jpeg|webp|gif)$/;

async function blobOf(file) {
  if (TYPES.test(file.type) && file.size > 500000) {
    return photoOf(file);
  }
  const bytes = await file.arrayBuffer();
  return { sha256: hex(await sha256(bytes)), type: file.type || "application/octet-stream", name: file.name.slice(-120) || "photo", bytes };
}

/** file: a File; about: id of the entry it belongs to, or null; machine: its name, or null. {entry, state}; errors as of record. */
export async function attach({ file, about = null, machine = null }) {
  const blob = await blobOf(file);
  return record({ machine, kind: "attachment", body: { sha256: blob.sha256, name: blob.name, type: blob.type, bytes: blob.bytes.byteLength, ...(about ? { about } : {}) } }, [blob]);
}
