#!/usr/bin/env python3
"""Turns the tables of the machine bus into constant C tables.

usage: bus_tables.py SIGNALS.csv FMI.csv OUT.c

Signals are sorted by group number, rows of one group keep their order, so that a group is found by bisection and its
readings come out in the order of the table. tests/feed/bus_table_test.c reads the same CSV with the program's own reader and
compares every field.
"""
import csv
import decimal
import re
import sys

STATUS = (("not available", "BUS_NOT_AVAILABLE"), ("error", "BUS_ERROR"), ("reserved", "BUS_RESERVED"))


def c_text(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("?", "\\?") + '"'


def c_states(cell):
    """'0=off;2,3=reserved;10-17=preset' -> rows of struct bus_state."""
    rows = []
    for part in filter(None, re.split(r";(?=[\d,-]+=)", cell)):  # a ; within the words of a state separates nothing
        raws, text = part.split("=", 1)
        status = next((s for head, s in STATUS if text.startswith(head)), "BUS_OK")
        for raw in raws.split(","):
            low, _, high = raw.partition("-")
            rows.append(f"{{{int(low)}, {int(high or low)}, {status}, {c_text(text)}}}")
    return rows


def span(cell):
    """'65024-65279', '254' -> (low, high); words -> None"""
    m = re.fullmatch(r"(\d+)(?:-(\d+))?", cell)
    return (int(m[1]), int(m[2] or m[1])) if m else None


def limits(row):
    """valid_max, error_low, error_high, not_available_low by the columns, else by the rule for the length."""
    bits = int(row["bit_length"])
    top = (1 << bits) - 1
    if bits >= 8 and bits % 8 == 0:
        step = 1 << (bits - 8)
        rule = [0xFB * step - 1, 0xFE * step, 0xFF * step - 1, 0xFF * step]
    elif bits == 1:
        rule = [1, 2, 2, 2]
    elif bits in (2, 4):
        rule = [top - 2, top - 1, top - 1, top]
    else:
        rule = [top - 1, top, top - 1, top]  # no error code: an empty span
    valid, error, missing = (span(row[k]) for k in ("valid_raw_max", "error_raw", "not_available_raw"))
    if valid:
        rule[0] = valid[0]
    if error:
        rule[1:3] = error
    if missing:
        rule[3] = missing[0]
    return rule


def number(row):
    """Scale and offset as integers over one power of ten, so that a raw value becomes the nearest double in one division."""
    if not row["scale"]:
        return "0, 0, 0, true"
    scale, offset = decimal.Decimal(row["scale"]), decimal.Decimal(row["offset"] or "0")
    places = max(0, -scale.as_tuple().exponent, -offset.as_tuple().exponent)
    power = decimal.Decimal(10) ** places
    return f"{int(scale * power)}, {int(offset * power)}, {places}, false"


def main():
    signals, fmi, out = sys.argv[1:]
    with open(signals, encoding="utf-8", newline="") as f:
        rows = sorted(csv.DictReader(f), key=lambda r: int(r["pgn"]))
    lines = ["/* Made by script/bus_tables.py from the tables in src/feed/data: edit those. */", '#include "feed_bus.h"', ""]
    for i, row in enumerate(rows):
        states = c_states(row["states"])
        if states:
            lines.append(f"static const struct bus_state states_{i}[] = {{{', '.join(states)}}};")
    lines.append("\nstatic const struct bus_signal signals[] = {")
    for i, row in enumerate(rows):
        states = f"states_{i}, sizeof states_{i} / sizeof *states_{i}" if row["states"] else "0, 0"
        valid, error_low, error_high, missing = limits(row)
        lines.append(
            f"    {{{row['spn']}, {row['pgn']}, {c_text(row['name'])}, {c_text(row['group'])}, {c_text(row['unit'])}, "
            f"{c_text(row['note'])}, {row['start_bit0']}, {row['bit_length']}, {number(row)}, "
            f"{valid}u, {error_low}u, {error_high}u, {missing}u, {states}}},")
    lines.append("};\n\nconst struct bus_table bus_table_builtin = {signals, sizeof signals / sizeof *signals};\n")
    lines.append("const struct bus_failure_mode bus_failure_modes[BUS_FAILURE_MODES] = {")
    with open(fmi, encoding="utf-8", newline="") as f:
        for row in csv.DictReader(f):
            lines.append(f"    [{row['fmi']}] = {{{c_text(row['meaning'])}, {c_text(row['reading_for_a_technician'])}, "
                         f"{c_text(row['severity_hint'])}}},")
    lines.append("};")
    with open(out, "w", encoding="utf-8") as f:
        f.write("\n".join(lines) + "\n")


main()
