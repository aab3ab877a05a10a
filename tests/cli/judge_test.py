"""Readings judged from the command line: tried and recorded alike, with what the log knows of before.

Expected figures are worked out by hand beside each check.

usage: judge_test.py WITMARK
"""
import math

from witmark_cli import DepotTest, main


def d341(v40, v100, celsius):
    """Kinematic viscosity in mm2/s by ASTM D341: log log (v + 0.7) falls straight with log T."""
    w = lambda v: math.log10(math.log10(v + 0.7))
    t = lambda c: math.log10(c + 273.15)
    b = (w(v40) - w(v100)) / (t(100) - t(40))
    return 10 ** 10 ** (w(v40) - b * (t(celsius) - t(40))) - 0.7


class Judging(DepotTest):
    def verdict(self, checkpoint, value, *words, machine="B-03"):
        return self.answer("judge", machine, checkpoint, value, *words)["verdict"]

    def test_tried_is_not_recorded(self):
        before = self.answer("log", "list")
        tried = self.verdict("return-gauge", "2.6 bar", "-w", "oil temperature=20 degC")
        self.assertEqual(self.answer("log", "list"), before)
        recorded = self.answer("record", "reading", "B-03", "return-gauge", "2.6 bar", "-w", "oil temperature=20 degC")["judged"]
        self.assertEqual(tried, recorded)
        self.assertEqual(tried["raw"]["value"], 2.6)
        self.assertAlmostEqual(tried["corrected"]["value"], 2.6 * d341(68, 10.6, 50) / d341(68, 10.6, 20), delta=1e-6)
        self.assertIn("D341", tried["source"])
        # 0.15 bar of the gauge go through the same factor
        self.assertAlmostEqual(tried["uncertainty"], tried["raw_uncertainty"] * tried["corrected"]["value"] / 2.6, delta=1e-6)

    def test_what_is_missing_is_named(self):
        for checkpoint, value, words, why, says in [
            ("return-gauge", "2.6 bar", [], "missing or no range", "oil's temperature was not read"),
            ("battery-charge", "12.5 V", [], "missing or no range", "how long the battery rested"),
            ("battery-charge", "12.5 V", ["-w", "rest=1 h"], "rest", "has not rested for 4 h"),
            ("battery-charge", "13.2 V", ["-w", "rest=6 h"], "missing or no range", "surface charge"),
            ("battery-charge", "25 V", ["-w", "rest=6 h"], "outside the gauge", "outside the gauge's range"),
            ("charge-pressure", "24 bar", ["-w", "oil temperature=50 degC,engine speed=900 rpm"], "engine speed", "not at the required speed"),
            ("charge-pressure", "24 bar", ["-w", "oil temperature=20 degC,engine speed=2300 rpm"], "temperature", "not warm"),
            ("charge-pressure", "24 bar", ["-w", "oil temperature=50 degC"], "engine speed", "engine speed was not read"),
            ("wheel-nut-torque", "170 N.m", [], "missing or no range", "extension"),
            ("engine-oil-use", "60 %", [], "missing or no range", "no earlier reading"),
        ]:
            with self.subTest(f"{checkpoint} {value} {words}"):
                verdict = self.verdict(checkpoint, value, *words)
                self.assertEqual((verdict["word"], verdict["why"], verdict["corrected"]["value"]), ("not judged", why, None))
                self.assertIn(says, verdict["reason"])

    def test_units_are_refused_before_anything_is_written(self):
        self.refused("record", "reading", "B-03", "battery-charge", "12.5 bar", "-w", "rest=6 h", status=3, says="is no voltage")
        self.refused("record", "reading", "B-03", "battery-charge", "12.5", "-w", "rest=6 h", status=3, says="is no voltage")
        self.refused("judge", "B-03", "battery-charge", "nan V", status=3, says="no number")
        self.refused("judge", "B-03", "battery-charges", "12 V", status=4, says="battery-charge")

    def test_consumption_comes_from_the_log(self):
        def at(day, hours, *words):
            self.call("record", "meter", "M-02", str(hours), "--at", f"{day} 07:00")
            return self.answer("record", *words, "--at", f"{day} 08:00")

        at("2026-04-01", 600, "reading", "M-02", "engine-oil-use", "90 %")
        self.answer("record", "done", "M-02", "top-up-engine-oil", "--fluids", "engine-oil=0.5 L", "--at", "2026-04-10")
        judged = at("2026-05-01", 660, "reading", "M-02", "engine-oil-use", "40 %")["judged"]
        # (0.9 - 0.4) of the 1.5 L between the marks and 0.5 L topped up: 1.25 L in 60 h
        self.assertAlmostEqual(judged["corrected"]["value"], 1.25 / 60, delta=2e-4)  # the meter's line between readings
        self.assertEqual(judged["word"], "out")  # more than 0.02 L/h
        # A change of the oil is no consumption: nothing to compare with until there is a level after it.
        self.answer("record", "done", "M-02", "change-engine-oil", "--at", "2026-05-02")
        judged = at("2026-06-01", 720, "reading", "M-02", "engine-oil-use", "80 %")["judged"]
        self.assertEqual(judged["word"], "not judged")
        judged = at("2026-07-01", 780, "reading", "M-02", "engine-oil-use", "60 %")["judged"]
        self.assertAlmostEqual(judged["corrected"]["value"], 0.3 / 60, delta=1e-4)
        self.assertEqual(judged["word"], "in limits")
        why = self.call("why", "M-02", "engine-oil-use").stdout
        self.assertIn("mass balance", why)
        self.assertIn("0.3 L less in", why)

    def test_a_leak_has_days_left(self):
        self.answer("record", "reading", "B-03", "hydraulic-loss", "80 %", "--at", "2026-04-01 08:00")
        self.answer("record", "done", "B-03", "top-up-hydraulic-oil", "--fluids", "hydraulic-oil=1 L", "--at", "2026-04-05")
        judged = self.answer("record", "reading", "B-03", "hydraulic-loss", "60 %", "--at", "2026-04-11 08:00")["judged"]
        # 20 % and 1 L of the 5 L between the marks: 40 % in 10 d; 40 % are left above the least of 20 %
        self.assertAlmostEqual(judged["corrected"]["value"], 10, delta=1e-6)
        self.assertEqual(judged["word"], "out")  # less than 14 d
        judged = self.answer("record", "reading", "B-03", "hydraulic-loss", "60 %", "--at", "2026-04-21 08:00")["judged"]
        self.assertEqual((judged["word"], judged["corrected"]["value"]), ("in limits", None))

    def test_a_value_may_begin_with_a_dash(self):
        self.assertEqual(self.verdict("coolant-freezing", "-37 degC")["word"], "in limits")

    def test_figures_of_the_book(self):
        answer = self.answer("machine", "calc", "B-03", "crowfoot", "torque=torque of wheel-nut/front", "wrench=600 mm", "adapter=60 mm")
        self.assertAlmostEqual(answer["outputs"]["setting"]["value"], 190 * 600 / 660, delta=1e-9)
        self.refused("machine", "calc", "B-03", "crowfoot", "torque=torque of wheel-nut/middle", status=4, says="torque of TORQUE")
        self.assertIn("(setting 172.7 N·m)", self.call("round", "B-03", "--scope", "torque-wheel-nuts").stdout)


main()
