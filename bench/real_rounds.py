#!/usr/bin/env python3
"""Rounds of every machine of a depot: how long, how near the bound, proven or not, and what the solver took.

usage: real_rounds.py WITMARK DEPOT [MACHINE...]

Asks `witmark round` for each machine and scope (daily, what is due, due within 50, 100 and 250 hours, each service of its book) and
prints steps, seconds of moves, bound, proven, and the processor and wall seconds of the whole command. Closes with how many are proven.
Make the demo's depot with `demo/make`; measure a release build.
"""
import json
import os
import resource
import subprocess
import sys
import time


def ask(witmark, depot, *words):
    """The answer, and processor and wall seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    done = subprocess.run([witmark, *words, "--depot", depot, "--json"], capture_output=True, text=True)
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    answer = json.loads(done.stdout) if done.returncode == 0 else {"error": done.stderr.strip()}
    return answer, after.ru_utime + after.ru_stime - used.ru_utime - used.ru_stime, wall


def scopes():
    """Names of rounds, and the words for each. A book that has no such service says so and is passed over."""
    yield "due", ["-s", "due"]
    for hours in 50, 100, 250:
        yield f"within {hours} h", ["-s", "within", "-w", str(hours)]
    for service in "daily", "50-h", "250-h", "500-h", "1000-h", "yearly", "season-start", "season-end":
        yield service, ["-s", service]


def main():
    witmark, depot, *machines = sys.argv[1:]
    machines = machines or [m["name"] for m in ask(witmark, depot, "machine", "list")[0]]
    rounds = proven = 0
    most = 0.0
    print(f"{'machine':8} {'scope':14} {'steps':>5} {'moves':>6} {'bound':>6} {'gap %':>6} {'proven':6} {'cpu s':>6} {'wall s':>6}")
    for machine in machines:
        for scope, words in scopes():
            r, cpu, wall = ask(witmark, depot, "round", machine, *words)
            if "has no service" in r.get("error", ""):
                continue
            if "error" in r:
                print(f"{machine:8} {scope:14} {r['error']}")
                rounds += 1
                continue
            steps = sum(s["type"] != "walk" for s in r["steps"])
            if not steps:
                continue
            gap = 100 * (r["moves_s"] / r["bound_s"] - 1) if r["bound_s"] else 0
            print(f"{machine:8} {scope:14} {steps:5} {r['moves_s']:6.0f} {r['bound_s']:6.0f} {gap:6.1f} "
                  f"{'yes' if r['proven'] else 'no':6} {cpu:6.2f} {wall:6.2f}", flush=True)
            rounds += 1
            proven += r["proven"]
            most = max(most, cpu)
    print(f"{proven} of {rounds} proven fastest; the longest took {most:.2f} s of processor time")


if __name__ == "__main__":
    main()
