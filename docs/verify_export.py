#!/usr/bin/env python3
"""Checks an export of a Witmark log without Witmark.

usage: verify_export.py [FILE]          (standard input without FILE)

Only Python's standard library is needed; with the package `cryptography` (Debian: python3-cryptography) signatures are
checked too, and without it the last line says that they were not. docs/verify-export.md explains each step.

One line per finding: a word, then what it is about.
  unreadable LINE            the line is no JSON object, or a member is missing
  altered ID                 the members of the entry do not give its hash
  forged ID                  the signature is not that of the entry's writer
  receipt ID                 a receipt of the entry is not signed by its depot
  missing WRITER FROM-TO     entries of a writer's chain are not in the file
  reordered ID               the entry does not name the hash of the entry before it
  forked WRITER NUMBER       two entries of one writer have the same number
  tip WRITER                 what the depot signed for as the end of the chain is not signed by it
  bytes HASH                 a book edition or attachment does not have its hash
  attached HASH              an entry names an attachment or edition that is not in the file (this is no error)
Exit status: 0 nothing but "attached", 1 findings, 2 the file cannot be read.
"""
import base64
import binascii
import hashlib
import json
import sys

try:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
except ImportError:
    Ed25519PublicKey = None


def number(value):
    """A number as ECMAScript prints it (RFC 8785, 3.2.2.3), from the shortest digits that Python's repr finds."""
    if isinstance(value, int) and abs(value) <= 2**53:
        return str(value)
    value = float(value)
    if value == 0:
        return "0"
    sign = "-" if value < 0 else ""
    mantissa, _, exponent = repr(abs(value)).partition("e")
    whole, _, fraction = mantissa.partition(".")
    digits = (whole + fraction).lstrip("0")
    point = len(whole) + int(exponent or 0) - (len(whole + fraction) - len(digits))
    digits = digits.rstrip("0")
    count = len(digits)
    if count <= point <= 21:
        return sign + digits + "0" * (point - count)
    if 0 < point <= 21:
        return sign + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return sign + "0." + "0" * -point + digits
    e = point - 1
    head = digits[0] + ("." + digits[1:] if count > 1 else "")
    return sign + head + "e" + ("+" if e >= 0 else "-") + str(abs(e))


def canonical(value):
    """The canonical JSON of RFC 8785."""
    if isinstance(value, dict):
        members = sorted(value.items(), key=lambda member: member[0].encode("utf-16-be"))
        return "{" + ",".join(canonical(k) + ":" + canonical(v) for k, v in members) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(item) for item in value) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if value is True or value is False or value is None:
        return {True: "true", False: "false", None: "null"}[value]
    return number(value)


def digest(value, without):
    """SHA-256 of an object's canonical JSON, without some of its members."""
    return hashlib.sha256(canonical({k: v for k, v in value.items() if k not in without}).encode("utf-8")).digest()


def signed(public_hex, message, signature_hex):
    """Whether the Ed25519 signature is right; None when this cannot be told here."""
    if Ed25519PublicKey is None:
        return None
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex)).verify(bytes.fromhex(signature_hex), message)
        return True
    except (InvalidSignature, ValueError):
        return False


def check_entry(line, say, chains, named):
    entry = line["entry"]
    hash_ = digest(entry, ("hash", "sig"))
    if hash_.hex() != entry["hash"]:
        say("altered", entry["id"])
    elif signed(entry["writer"], hash_, entry["sig"]) is False:
        say("forged", entry["id"])
    for receipt in line.get("receipts", []):
        ours = receipt["entry"] == entry["hash"]
        if not ours or signed(receipt["depot"], digest(receipt, ("sig",)), receipt["sig"]) is False:
            say("receipt", entry["id"])
    chain = chains.setdefault(entry["writer"], {"entries": {}, "tip": None})
    chain["entries"].setdefault(entry["seq"], {})[entry["hash"]] = entry
    if entry["book"]:
        named.add(entry["book"].removeprefix("sha256:"))
    if entry["kind"] == "attachment":
        named.add(entry["body"]["sha256"])


def check_chain(writer, chain, say):
    before, last = {"0" * 64: None}, 0
    tip = chain["tip"]
    for seq in sorted(chain["entries"]):
        here = chain["entries"][seq]
        if len(here) > 1:
            say("forked", writer, seq)
        if seq > last + 1:
            say("missing", writer, f"{last + 1}-{seq - 1}")
        else:
            for entry in here.values():
                if entry["prev"] not in before:
                    say("reordered", entry["id"])
        before, last = here, seq
    if tip and tip["seq"] > last:
        say("missing", writer, f"{last + 1}-{tip['seq']}")


def check(lines, out):
    """Reads all lines; returns whether anything was found."""
    found, chains, kept, named = [], {}, set(), set()

    def say(*words):
        found.append(words[0])
        print(*words, file=out)

    for number_of_line, text in enumerate(lines, 1):
        if not text.strip():
            continue
        try:
            line = json.loads(text)
            if "entry" in line:
                check_entry(line, say, chains, named)
            elif "edition" in line or "blob" in line:
                if "edition" in line:
                    thing, data = line["edition"], line["edition"]["text"].encode("utf-8")
                else:
                    thing, data = line["blob"], base64.b64decode(line["blob"]["data"], validate=True)
                kept.add(thing["sha256"])
                if hashlib.sha256(data).hexdigest() != thing["sha256"]:
                    say("bytes", thing["sha256"])
            elif "tip" in line:
                tip = line["tip"]
                chains.setdefault(tip["writer"], {"entries": {}, "tip": None})["tip"] = tip
                if signed(tip["depot"], digest(tip, ("sig",)), tip["sig"]) is False:
                    say("tip", tip["writer"])
            elif "export" not in line:
                say("unreadable", number_of_line)
        except (ValueError, KeyError, TypeError, AttributeError, binascii.Error):
            say("unreadable", number_of_line)
    for writer in sorted(chains):
        check_chain(writer, chains[writer], say)
    for name in sorted(named - kept):
        say("attached", name)
    entries = sum(len(here) for chain in chains.values() for here in chain["entries"].values())
    errors = sum(word != "attached" for word in found)
    print(f"# {entries} entries of {len(chains)} writers, {errors} findings", file=out)
    if Ed25519PublicKey is None:
        print("# hashes and chains were checked; signatures were NOT (install python3-cryptography)", file=out)
    return errors > 0


def main():
    if len(sys.argv) > 2 or sys.argv[1:] in (["-h"], ["--help"]):
        print(__doc__)
        return 0 if len(sys.argv) == 2 else 2
    try:
        with open(sys.argv[1], encoding="utf-8") if len(sys.argv) == 2 else sys.stdin as lines:
            return 1 if check(lines, sys.stdout) else 0
    except (OSError, UnicodeDecodeError) as problem:
        print(f"verify_export.py: {problem}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
