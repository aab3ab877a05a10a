// Entries made on this device: canonical JSON, ids that grow, and one signed chain, exactly as docs/entries.md says. Pure:
// what day it is, the key and the end of the chain come in. Needs WebCrypto with Ed25519 (a secure context).

const encoder = new TextEncoder();
const ZEROS = "0".repeat(64);

/** Canonical JSON (RFC 8785): members by UTF-16 code units, numbers and texts as ECMAScript writes them. Throws on what
 *  JSON has no word for and on a text that is no Unicode. Members that are undefined are left out. */
export function canonical(value) {
  if (value === null || typeof value === "boolean") {
    return String(value);
  }
  if (typeof value === "number") {
    if (!Number.isFinite(value)) {
      throw new TypeError(`${value} is no number of JSON`);
    }
    return JSON.stringify(value);
  }
  if (typeof value === "string") {
    return text(value);
  }
  if (Array.isArray(value)) {
    return `[${value.map(canonical).join(",")}]`;
  }
  if (typeof value === "object") {
    const names = Object.keys(value).filter((name) => value[name] !== undefined).sort(); // sort() compares UTF-16 code units
    return `{${names.map((name) => `${text(name)}:${canonical(value[name])}`).join(",")}}`;
  }
  throw new TypeError(`a ${typeof value} is no value of JSON`);
}

function text(value) {
  if (/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/.test(value)) {
    throw new TypeError("the text has half a character in it");
  }
  return JSON.stringify(value);
}

export function hex(bytes) {
  return Array.from(new Uint8Array(bytes), (b) => b.toString(16).padStart(2, "0")).join("");
}

export function unhex(digits) {
  return Uint8Array.from(digits.match(/../g) ?? [], (pair) => parseInt(pair, 16));
}

/** SHA-256 of bytes, or of a text as UTF-8. */
export async function sha256(data) {
  return new Uint8Array(await crypto.subtle.digest("SHA-256", typeof data === "string" ? encoder.encode(data) : data));
}

// ---- ids ----

const idBytes = (id) => unhex(id.replaceAll("-", ""));

function idText(bytes) {
  const h = hex(bytes);
  return [h.slice(0, 8), h.slice(8, 12), h.slice(12, 16), h.slice(16, 20), h.slice(20)].join("-");
}

function idMake(ms, counter, random) {
  const b = new Uint8Array(16);
  for (let i = 0; i < 6; i++) {
    b[i] = Math.floor(ms / 2 ** (40 - 8 * i)) % 256;
  }
  b[6] = 0x70 | (counter >> 8);
  b[7] = counter & 0xff;
  b.set(random.slice(2, 10), 8);
  b[8] = 0x80 | (b[8] & 0x3f);
  return idText(b);
}

/** The next UUIDv7 (RFC 9562, 6.2 method 1) after `last` (or null): it is greater than that, also when the clock went back. */
export function nextId(last, now, random = crypto.getRandomValues(new Uint8Array(10))) {
  const ms = Math.max(0, Math.floor(now));
  const start = ((random[0] << 8) | random[1]) & 0x7ff;
  if (!last) {
    return idMake(ms, start, random);
  }
  const b = idBytes(last);
  const before = b.slice(0, 6).reduce((sum, x) => sum * 256 + x, 0);
  if (ms > before) {
    return idMake(ms, start, random);
  }
  const counter = ((b[6] & 0x0f) << 8) | b[7];
  return counter === 0xfff ? idMake(before + 1, start, random) : idMake(before, counter + 1, random);
}

// ---- keys and signatures ----

/** Why this device cannot sign entries itself: "" when it can, "no-secure-context" or "no-ed25519". */
export async function whyNoSigning() {
  if (!globalThis.crypto?.subtle) {
    return "no-secure-context";
  }
  try {
    await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]);
    return "";
  } catch {
    return "no-ed25519";
  }
}

/** {privateKey, writer}: a key that cannot be read out again, and its public half as 64 hex digits. */
export async function newWriter() {
  const pair = await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]);
  return { privateKey: pair.privateKey, writer: hex(await crypto.subtle.exportKey("raw", pair.publicKey)) };
}

/** The end of a chain without entries. */
export const START = { seq: 0, hash: ZEROS, id: null };

/** What of an entry is hashed: all but hash and sig. */
export function unsigned(entry) {
  const rest = { ...entry };
  delete rest.hash;
  delete rest.sig;
  return rest;
}

/** The next entry of a chain, signed. writer: as newWriter gives; head: {seq, hash, id} of the entry before, or START;
 *  draft: {kind, machine, by, body, at?, book?}; now: milliseconds. */
export async function nextEntry(writer, head, draft, now) {
  const made = new Date(now).toISOString();
  const entry = {
    v: 1,
    id: nextId(head.id, now),
    writer: writer.writer,
    seq: head.seq + 1,
    prev: head.hash,
    at: draft.at ? new Date(draft.at).toISOString() : made,
    made,
    by: draft.by,
    machine: draft.machine ?? null,
    book: draft.book ?? null,
    kind: draft.kind,
    body: draft.body,
  };
  const hash = await sha256(canonical(entry));
  return { ...entry, hash: hex(hash), sig: hex(await crypto.subtle.sign("Ed25519", writer.privateKey, hash)) };
}

/** The end of the chain after an entry. */
export const headOf = (entry) => ({ seq: entry.seq, hash: entry.hash, id: entry.id });

/** "" when the entry is as its writer signed it, else "altered" or "forged". */
export async function proof(entry) {
  const hash = await sha256(canonical(unsigned(entry)));
  if (hex(hash) !== entry.hash) {
    return "altered";
  }
  const key = await crypto.subtle.importKey("raw", unhex(entry.writer), "Ed25519", false, ["verify"]);
  return (await crypto.subtle.verify("Ed25519", key, unhex(entry.sig), hash)) ? "" : "forged";
}
