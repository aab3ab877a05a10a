#!/usr/bin/env python3
"""witmark calc: what the published cases of tests/data/checks/engineering expect (by their ids; the source stands in
each case), refusals in their exact words, and the list, show, JSON and completion. Speaks TAP.

usage: calc_test.py WITMARK
"""
import json
import os
import pathlib
import subprocess
import sys

WITMARK = sys.argv[1]
CHECKS = pathlib.Path(os.environ["WITMARK_DATA"]) / "checks" / "engineering"
# In one of the answer's units: how many of the case's unit that is (NIST SP 811 (2008), appendix B).
FACTORS = {"psi from bar": 1e5 / 6894.757, "h from s": 1 / 3600, "in from mm": 1 / 25.4, "lbf.ft from N.m": 1 / 1.355818}

# id of the case; what is typed; name in the case = output of the calculation [: conversion of FACTORS]
CASES = [
    ("tyres-05", "atmosphere altitude=1524m", {"Pa": "pressure:si"}),
    ("tyres-07", "tyre-pressure gauge=140kPa from=20degC to=20degC altitude1=0m altitude2=1500m", {"gauge": "gauge:/0.01"}),
    ("tyres-09", "tyre-leak reading1=20.0psi temperature1=20degC reading2=17.5psi temperature2=5degC time=14d "
                 "reference=20degC minimum=16psi ambient=14.696psi",
     {"corrected2": "corrected2:psi from bar", "loss_per_day": "loss:psi from bar", "days_left": "left", "days_left_uncorrected": "left-uncorrected"}),
    ("bolts-01", "thread-area 12mm 1.75mm form=iso", {"As_mm2": "area"}),
    ("bolts-12", "bolt-preload torque=50N.m k=0.2 diameter=10mm area=58.0mm2 proof=33700N",
     {"preload_N": "preload:si", "fraction_of_proof": "proof-share:si"}),
    ("bolts-14", "crowfoot torque=135N.m wrench=10mm adapter=1.5mm angle=0deg", {"setting": "setting"}),
    ("viscosity-01", "viscosity-index v40=73.3mm2/s v100=8.86mm2/s", {"VI": "index", "VI_unrounded": "unrounded"}),
    ("viscosity-17", "blend shares=0.5,0.5 v=46mm2/s,100mm2/s method=refutas", {"v": "v"}),
    ("viscosity-19", "pump-window v=12mm2/s floor=10.3mm2/s optimum-low=15.7mm2/s optimum-high=38.5mm2/s start-most=1619mm2/s",
     {"state": "state"}),
    ("coolant-08", "coolant-drain volume=12L now=0.3 target=0.5 fill=1.0", {"drain": "drain"}),
    ("battery-08", "charge-voltage voltage=13.1V", {"soc_percent": "charge"}),
    ("battery-09", "battery-load-test cca=680A temperature=10degC voltage=9.5V", {"load_A": "load", "minimum_V": "minimum", "pass": "pass"}),
    ("cleanliness-06", "cleanliness-code counts=300000,50000,700 per=100", {"code": "code"}),
    ("used-05", "oil-limits values=12,15,11,14,18,13,16,12,17,14,15,13 k=2,3", {"mean": "mean", "s": "deviation", "limits": "limits"}),
    ("dpf-02", "ash-hours oil=0.004L density=0.87kg/L ash=1% retained=1 filter=5L limit=15g/L", {"hours": "time"}),
    ("hydraulics-01", "pump-flow displacement=45cm3/rev speed=2200rpm measured=92.1L/min",
     {"theoretical_L_min": "flow", "volumetric_efficiency": "efficiency:si", "internal_leak_L_min": "leak"}),
    ("belts-07", "grease-quantity outside=52mm width=15mm", {"g": "grease"}),
    ("electrical-02", "wire-drop current=15A length=4m section=2.5mm2 system=12V", {"drop_V": "drop", "percent": "share"}),
    ("economics-01", "economic-life first-cost=13000 market=9000,8000,6000,2000,0 annual=2500,2700,3000,3500,4500 rate=10%",
     {"euac": "euac", "best_year": "best-year"}),
    ("calendar-01", "due last=2026-03-10 last-hours=812h every-hours=250h every-months=12 today=2026-11-24 hours-now=958h",
     {"due_hours": "due-hours", "due_date": "due-date", "first": "first"}),
    ("calendar-04", "date-after 2026-08-31 6", {"date": "date"}),
    ("calendar-06", "date-forms 2027-01-01", {"week_date": "week-date", "ordinal": "ordinal"}),
    ("calendar-10", "duration P15DT5H0M20S", {"seconds": "time"}),
    ("units-01", "convert value=32psi to=kPa", {"kPa": "value"}),
    ("units-05", "convert 10degF K difference=yes", {"K": "value"}),
]

# What is typed, exit status, what stderr must say.
REFUSALS = [
    ("conver 22psi bar", 4, "no calculation 'conver'; did you mean convert?"),
    ("quite-another-thing", 4, "no calculation 'quite-another-thing'; witmark calc list has all"),
    ("tyre-pressure gage=3bar", 2, 'tyre-pressure has no input "gage"; did you mean gauge?'),
    ("tyre-pressure gauge=3bar gauge=4bar", 2, "gauge is given twice; each input once"),
    ("date-forms 2027-01-01 more", 2, "date-forms has no input left for 'more'; inputs as NAME=VALUE"),
    ("tyre-pressure gauge=3bar", 2, "tyre-pressure needs from; temperature of the tyre at the reading"),
    ("tyre-pressure gauge=3 from=20degC to=20degC", 3, "gauge needs a unit: it is a pressure; bar"),
    ("tyre-pressure gauge=3degC from=20degC to=20degC", 3, "gauge is a pressure, not a temperature; bar"),
    ("tyre-pressure gauge=-3bar from=20degC to=20degC", 3, "absolute tyre pressure (gauge + ambient) is -198.7 kPa; finite and more than 0 kPa"),
    ("tyre-pressure gauge=nan from=20degC to=20degC", 3, 'gauge: no number where a quantity is expected: "nan"'),
    ("tyre-pressure gauge= from=20degC to=20degC", 3, "gauge is empty; bar"),
    ("tyre-pressure gauge=2bar from=0K to=20degC", 3, "within -73.15 .. 126.9 °C"),
    ("convert 22psi bra", 3, 'to: unknown unit "bra"; did you mean bar?'),
    ("convert 22psi degC", 3, "psi is a pressure, degC is a temperature"),
    ("convert 22 bar", 3, "value has no unit"),
    ("date-forms 2027-02-29", 3, 'date: no such date: "2027-02-29"; a date of the calendar, YYYY-MM-DD'),  # calendar-07
    ("date-after 9999-12-31 days=1", 3, "0001-01-01 .. 9999-12-31"),
    ("viscosity-index v40=3mm2/s v100=1.5mm2/s", 3, "within 2 .. 1000 mm²/s"),  # viscosity-05
    ("coolant-freezing ethylene 95%", 3, "is 95 %; within 0 .. 60 %"),  # coolant-07
    ("oil-limits values=12,15,11 k=2,3", 3, "at least 10 samples"),  # used-06
    ("convert 1bar psi --units=old", 2, "--units 'old'; as-written, si or us"),
]


def run(words, *more):
    """Exit status, stdout, stderr of witmark calc; the words are apart by blanks."""
    done = subprocess.run([WITMARK, "calc", *words.split(), *more], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def published():
    """All engineering cases by id."""
    return {case["id"]: case for path in sorted(CHECKS.glob("*.json")) for case in json.loads(path.read_text())}


def close(got, expected, tolerance):
    """Whether a value is the expected one under the case's tolerance."""
    if isinstance(expected, list):
        return isinstance(got, list) and len(got) == len(expected) and all(close(g, x, tolerance) for g, x in zip(got, expected))
    if isinstance(expected, bool) or not isinstance(expected, (int, float)):
        return got == expected
    if isinstance(got, bool) or not isinstance(got, (int, float)):
        return False
    off = abs(got - expected)
    return off <= tolerance.get("abs", 0) or off <= tolerance.get("rel", 0) * abs(expected) or off <= 1e-12 * abs(expected)


def result(outputs, wanted):
    """The value of "output", "output:si", "output:/factor" or "output:conversion" in an answer."""
    name, _, how = wanted.partition(":")
    member = outputs[name]
    if how == "si":
        return member["si"]
    factor = 1 / float(how[1:]) if how.startswith("/") else FACTORS[how] if how else None
    return member["value"] if factor is None else member["value"] * factor


def check_case(case, words, outputs):
    """Why the case fails, or nothing."""
    status, out, said = run(words, "--json")
    if status:
        return said
    answer = json.loads(out)
    if not answer["formula"] or not answer["source"]:
        return "no formula or source"
    wrong = []
    for name, wanted in outputs.items():
        got = result(answer["outputs"], wanted)
        tolerance = case["tolerance"].get(name, case["tolerance"])
        if not close(got, case["expected"][name], tolerance):
            wrong.append(f"{name}: got {got}, expected {case['expected'][name]}")
    return "; ".join(wrong)


def check_refusal(words, status, says):
    """A refusal has its exit status and words, and prints no number."""
    got, out, said = run(words)
    if got != status or out:
        return f"exit status {got} instead of {status}; printed {out!r}; said {said!r}"
    return "" if says in said and said.startswith("witmark: ") else f"said {said!r}"


def check_text():
    """The plain answer has the unit; --why adds inputs, formula and source; --units changes the unit."""
    words = "tyre-pressure gauge=20psi from=70degF to=50degF ambient1=14.7psi ambient2=14.7psi"
    _, plain, _ = run(words)
    _, why, _ = run(words, "--why")
    _, us, _ = run(words, "--units=us")
    if "bar" not in plain or "formula" in plain:
        return plain
    if "formula  g2 = " not in why or "source   ideal gas" not in why or "temperature to refer to" not in why:
        return why
    # tyres-01: 18.69 psi with a zero of 460 degF; with 459.67 it is 18.69 psi too, by the case's tolerance
    value = float(us.split()[1])
    return "" if "psi" in us and abs(value - 18.69) <= 0.01 else us


def check_lists():
    """calc list, calc show and their JSON agree on the names, and each can be shown."""
    _, out, _ = run("list", "--json")
    listed = json.loads(out)
    _, lines, _ = run("list")
    names = [line.split()[0] for line in lines.splitlines()]
    if names != [calc["name"] for calc in listed] or len(names) < 60:
        return "the two lists differ"
    for calc in listed:
        status, text, said = run("show " + calc["name"])
        missing = [f["name"] for f in calc["inputs"] + calc["outputs"] if f"  {f['name']} " not in text]
        if status or missing or calc["formula"] not in text or calc["source"] not in text:
            return f"{calc['name']}: {missing} {said}"
        _, one, _ = run("show " + calc["name"], "--json")
        if json.loads(one) != calc:
            return f"{calc['name']}: show and list differ"
    return ""


def check_help():
    """--help, the manual and completion know it."""
    texts = [subprocess.run([WITMARK, *words], capture_output=True, text=True, check=False).stdout
             for words in (["calc", "--help"], ["man"], ["completion"], ["help"])]
    if "--why" not in texts[0] or 'SS "witmark calc show' not in texts[1] or "calc) options=" not in texts[2]:
        return "a text does not know calc"
    return "" if "calc list" in texts[3] else "help does not list it"


def main():
    cases = published()
    tests = [(f"{name}: {words}", lambda n=name, w=words, o=outputs: check_case(cases[n], w, o)) for name, words, outputs in CASES]
    tests += [(f"refused: {words}", lambda r=(words, status, says): check_refusal(*r)) for words, status, says in REFUSALS]
    tests += [("text, why and units", check_text), ("list and show", check_lists), ("help, man, completion", check_help)]
    print(f"1..{len(tests)}")
    for number, (name, test) in enumerate(tests, 1):
        problem = test()
        print(f"{'not ok' if problem else 'ok'} {number} - {name.replace('#', '')}")
        if problem:
            print("# " + problem.strip().replace("\n", "\n# "))


main()
