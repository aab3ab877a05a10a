#!/usr/bin/env python3
"""Runs everything that script/test promises and adds it up.

Steps: gcc build with address and undefined sanitizers and its test programs; every public header alone; clang-format;
clang-14 build; clang-tidy. A step that is no test program counts as one test. Closes with 'N passed, N failed, N skipped'.
"""
import concurrent.futures
import os
import pathlib
import subprocess
import sys
import time
import xml.etree.ElementTree as ET

ROOT = pathlib.Path(__file__).resolve().parent.parent
QUICK = "yes" in sys.argv[1:]
counts = {"passed": 0, "failed": 0, "skipped": 0}


def run(command, **options):
    """The command's exit status and all it printed."""
    done = subprocess.run(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **options)
    return done.returncode, done.stdout


def step(name, function):
    """One step that passes or fails as a whole."""
    start = time.time()
    problem = function()
    word = "failed" if problem else "passed"
    counts[word] += 1
    print(f"{word:7} {name} ({time.time() - start:.0f} s)", flush=True)
    if problem:
        print(problem[-12000:], flush=True)


def build(folder, *options, compiler=None):
    """Null when the folder builds, else the end of what the tools said."""
    env = dict(os.environ, CC=compiler) if compiler else None
    if not (ROOT / folder / "build.ninja").exists():
        status, out = run(["meson", "setup", folder, *options], env=env)
        if status:
            return out
    status, out = run(["ninja", "-C", folder])
    return out if status else None


def programs():
    """The test programs of the sanitizer build, counted test by test."""
    status, out = run(["meson", "test", "-C", "build-test", "--print-errorlogs", "--num-processes", str(os.cpu_count() or 2)])
    failed_before = counts["failed"]
    report = ET.parse(ROOT / "build-test" / "meson-logs" / "testlog.junit.xml")
    for suite in report.getroot().iter("testsuite"):
        for case in suite.iter("testcase"):
            if case.find("failure") is not None or case.find("error") is not None:
                counts["failed"] += 1
                print(f"failed  {suite.get('name')}: {case.get('name')}")
            elif case.find("skipped") is not None:
                counts["skipped"] += 1
                print(f"skipped {suite.get('name')}: {case.get('name')}")
            else:
                counts["passed"] += 1
    if status and counts["failed"] == failed_before:  # a program that died before it could report
        counts["failed"] += 1
    if status:
        print(out[-20000:])
    print(f"{counts['passed']} tests of the programs passed", flush=True)


def headers_alone():
    """Every header of src compiles by itself under its library's include paths."""
    wrong = []
    includes = [f"-I{ROOT / 'src' / part}" for part in ("core", "book", "log", "feed", "desk", "web", "sheet")]
    flags = subprocess.run(["pkg-config", "--cflags", "jansson", "libmicrohttpd"], capture_output=True, text=True, check=False).stdout.split()
    for header in sorted((ROOT / "src").rglob("*.h")):
        status, out = run(["gcc", "-std=c17", "-D_POSIX_C_SOURCE=200809L", "-Wall", "-Wextra", "-Werror", "-fsyntax-only", *includes,
                           f"-I{header.parent}", *flags, "-x", "c", str(header)])
        if status:
            wrong.append(out)
    return "\n".join(wrong)


def formatted():
    """clang-format 14 has nothing to change."""
    sources = [str(p) for part in ("src", "tests", "fuzz", "bench") for p in sorted((ROOT / part).rglob("*.[ch]"))]
    status, out = run(["clang-format-14", "--dry-run", "-Werror", *sources])
    return out if status else None


def tidy():
    """clang-tidy 14 over src, as errors; a file that passed before with the same text is not looked at again."""
    import hashlib
    cache = ROOT / "build-test" / "tidy"
    cache.mkdir(exist_ok=True)
    common = hashlib.sha256((ROOT / ".clang-tidy").read_bytes())
    for header in sorted((ROOT / "src").rglob("*.h")):
        common.update(header.read_bytes())
    common = common.digest()

    def one(path):
        stamp = cache / hashlib.sha256(common + path.read_bytes()).hexdigest()
        if stamp.exists():
            return ""
        status, out = run(["clang-tidy-14", "--quiet", "-p", "build-clang", str(path)])
        if status == 0:
            stamp.touch()
            return ""
        return out

    sources = sorted((ROOT / "src").rglob("*.c"))
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count() or 2) as pool:
        return "\n".join(filter(None, pool.map(one, sources)))


def main():
    sanitizers = ("-Db_sanitize=address,undefined", "-Dbuildtype=debug")
    step("build with gcc, address and undefined sanitizers", lambda: build("build-test", *sanitizers, compiler="gcc"))
    if counts["failed"] == 0:
        programs()
    step("every header alone", headers_alone)
    step("clang-format", formatted)
    if not QUICK:
        step("build with clang", lambda: build("build-clang", "-Dbuildtype=debug", "-Db_lundef=false", compiler="clang-14"))
        step("clang-tidy", tidy)
    print(f"{counts['passed']} passed, {counts['failed']} failed, {counts['skipped']} skipped")
    return 1 if counts["failed"] else 0


sys.exit(main())
