#!/usr/bin/env python3
"""Runs everything that script/test promises and adds it up.

usage: run_tests.py [--quick]

Steps: gcc build with address and undefined sanitizers and its test programs; every header alone; clang-format; clang-14 build;
clang-tidy. A step that is no test program counts as one test; a test program counts as its tests. Closes with
'N passed, N failed, N skipped' and exit status 1 when anything failed. --quick leaves out what needs clang or a browser.
"""
import concurrent.futures
import hashlib
import json
import os
import pathlib
import re
import shlex
import subprocess
import sys
import time
import xml.etree.ElementTree as ET

ROOT = pathlib.Path(__file__).resolve().parent.parent
JOBS = os.cpu_count() or 2
counts = {"passed": 0, "failed": 0, "skipped": 0}


def run(command, **options):
    """The command's exit status and all it printed."""
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
                          check=False, **options)
    return done.returncode, done.stdout


def step(name, function):
    """One step that passes or fails as a whole; true when it passed. What a function returns is what is wrong."""
    start = time.time()
    problem = function()
    word = "failed" if problem else "passed"
    counts[word] += 1
    print(f"{word:7} {name} ({time.time() - start:.0f} s)", flush=True)
    if problem:
        print(problem[-12000:], flush=True)
    return not problem


def build(folder, *options, compiler=None):
    """Empty when the folder builds, else what the tools said."""
    env = dict(os.environ, CC=compiler) if compiler else None
    if not (ROOT / folder / "build.ninja").exists():
        status, out = run(["meson", "setup", folder, *options], env=env)
        if status:
            return out
    status, out = run(["ninja", "-C", folder])
    return out if status else ""


# cmocka 1.1 says "not ok 3 - name # SKIP" of a test that skips itself, which meson 1.0 takes for a failure.
SKIPPED_ITSELF = re.compile(r"^not ok (\d+)\b.*# SKIP", re.M)


def programs():
    """The test programs of the sanitizer build, counted test by test: meson's report has one case per test of a program that speaks
    TAP. What a program printed, in meson's other report, tells a skip from a failure, a program that skips as a whole, and one that
    died after good tests."""
    start = time.time()
    logs = ROOT / "build-test" / "meson-logs"
    for name in ("testlog.junit.xml", "testlog.json"):
        (logs / name).unlink(missing_ok=True)
    _, out = run(["meson", "test", "-C", "build-test", "--no-rebuild", "--print-errorlogs", "--num-processes", str(JOBS),
                  "--timeout-multiplier", "4"])
    if not (logs / "testlog.json").exists() or not (logs / "testlog.junit.xml").exists():
        counts["failed"] += 1
        print(f"failed  test programs: meson gave no report\n{out[-12000:]}", flush=True)
        return
    tests = {test["name"]: test for test in map(json.loads, (logs / "testlog.json").read_text(encoding="utf-8").splitlines())}
    cases = {name: [] for name in tests}
    for suite in ET.parse(logs / "testlog.junit.xml").getroot().iter("testsuite"):
        for case in suite.iter("testcase"):
            program = case.get("classname", "").split(".", 1)[-1]
            if program in cases and case.get("name") != program:  # a case named like its program says no more than the program
                cases[program].append(case)
    total = {"passed": 0, "failed": 0, "skipped": 0}
    for name, test in tests.items():
        printed = test.get("stdout", "")
        itself = set(SKIPPED_ITSELF.findall(printed))
        words = {}
        for case in cases[name]:
            if case.get("name").split(" ", 1)[0] in itself or case.find("skipped") is not None:
                words[case.get("name")] = "skipped"
            else:
                words[case.get("name")] = "passed" if case.find("failure") is None and case.find("error") is None else "failed"
        whole = {"OK": "passed", "EXPECTEDFAIL": "passed", "SKIP": "skipped"}.get(test["result"], "failed")
        if whole == "failed" and itself and test["returncode"] == 0 and "failed" not in words.values():
            whole = "passed"
        if not words or (whole == "failed" and "failed" not in words.values()):
            reason = printed.split("# SKIP", 1)[1].splitlines()[0].strip() if "# SKIP" in printed else test["result"].lower()
            words[reason] = whole
        for case, word in words.items():
            total[word] += 1
            if word != "passed":
                print(f"{word:7} {name}: {case}")
    for word, n in total.items():
        counts[word] += n
    if total["failed"]:
        print(out[-20000:])
    print(f"{'failed ' if total['failed'] else 'passed '} test programs: {total['passed']} tests passed ({time.time() - start:.0f} s)", flush=True)


def each(function, paths):
    """What the function says of the paths, joined; as many at once as there are processors."""
    with concurrent.futures.ThreadPoolExecutor(JOBS) as pool:
        return "\n".join(filter(None, pool.map(function, paths)))


def headers_alone():
    """Every header of src compiles by itself under the include paths that its library has."""
    flags = shlex.split(run(["pkg-config", "--cflags", "jansson", "libmicrohttpd", "pangocairo"])[1])
    includes = [f"-Isrc/{part}" for part in ("core", "book", "log", "feed", "desk", "web", "sheet")]

    def one(header):
        status, out = run(["gcc", "-std=c17", "-D_POSIX_C_SOURCE=200809L", "-Wall", "-Wextra", "-Werror", "-fsyntax-only", *includes,
                           f"-I{header.parent}", *flags, "-x", "c", str(header)])
        return out if status else ""

    return each(one, sorted((ROOT / "src").rglob("*.h")))


def formatted():
    """clang-format 14 has nothing to change."""
    def one(path):
        status, out = run(["clang-format-14", "--dry-run", "-Werror", str(path)])
        return out if status else ""

    return each(one, [p for part in ("src", "tests", "fuzz", "bench") for p in sorted((ROOT / part).rglob("*.[ch]"))])


def tidy():
    """clang-tidy 14 over src, as errors. A file that passed is not looked at again while it, the headers and the rules are the same."""
    cache = ROOT / "build-clang" / "tidy"
    cache.mkdir(exist_ok=True)
    common = hashlib.sha256((ROOT / ".clang-tidy").read_bytes())
    for header in sorted((ROOT / "src").rglob("*.h")):
        common.update(header.read_bytes())
    common = common.digest()

    def one(path):
        stamp = cache / hashlib.sha256(common + str(path).encode() + path.read_bytes()).hexdigest()
        if stamp.exists():
            return ""
        status, out = run(["clang-tidy-14", "--quiet", "-p", "build-clang", str(path)])
        if status == 0:
            stamp.touch()
            return ""
        return out

    # The large ones first, so that no processor waits for the last.
    return each(one, sorted((ROOT / "src").rglob("*.c"), key=lambda p: -p.stat().st_size))


def main():
    start = time.time()
    if step("build with gcc, address and undefined sanitizers",
            lambda: build("build-test", "-Db_sanitize=address,undefined", "-Dbuildtype=debug", compiler="gcc")):
        programs()
    step("every header alone", headers_alone)
    if "--quick" not in sys.argv[1:]:
        step("clang-format", formatted)
        if step("build with clang", lambda: build("build-clang", "-Dbuildtype=debug", "-Db_lundef=false", compiler="clang-14")):
            step("clang-tidy", tidy)
    print(f"in {time.time() - start:.0f} s")
    print(f"{counts['passed']} passed, {counts['failed']} failed, {counts['skipped']} skipped")
    return 1 if counts["failed"] else 0


sys.exit(main())
