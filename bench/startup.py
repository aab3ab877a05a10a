#!/usr/bin/env python3
"""Start-up time of the command line, as ratios within one run.

usage: startup.py WITMARK

Each pair of commands runs in turn, A B A B ..., 30 times after two that do not count; printed is the median of the ratios A/B and its
quartiles. `true` is the cheapest process there is; the SQLite shell counting the same depot's entries is the cheapest answer from the
same file. Quote the ratios: absolute times are those of this machine at this moment.
"""
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

RUNS = 30


def once(command):
    start = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def pair(name, a, b):
    for _ in range(2):
        once(a), once(b)
    times = [(once(a), once(b)) for _ in range(RUNS)]
    ratios = sorted(x / y for x, y in times)
    quarter = RUNS // 4
    print(f"{name}: x {statistics.median(ratios):.1f} ({ratios[quarter]:.1f} to {ratios[-quarter - 1]:.1f}); "
          f"medians {statistics.median(x for x, _ in times) * 1e3:.1f} ms and {statistics.median(y for _, y in times) * 1e3:.1f} ms")


def main():
    witmark = sys.argv[1]
    root = pathlib.Path(__file__).resolve().parent.parent
    with tempfile.TemporaryDirectory() as folder:
        depot = f"{folder}/demo"
        subprocess.run([root / "demo" / "make", "--depot", depot, "--witmark", witmark, "--today", "2026-11-25"], check=True)
        pair("witmark --version against true", [witmark, "--version"], ["true"])
        pair("witmark depot show against sqlite3 count(*)", [witmark, "depot", "show", "--depot", depot],
             ["sqlite3", depot, "select count(*) from entry"])
        pair("witmark today against sqlite3 count(*)", [witmark, "today", "--depot", depot, "--today", "2026-11-25"],
             ["sqlite3", depot, "select count(*) from entry"])


main()
