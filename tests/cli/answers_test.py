"""What the commands answer: help, JSON, exit statuses, suggestions, dates, units, corrections, the put-back list, rounds.

usage: answers_test.py WITMARK
"""
import datetime
import json
import re
import subprocess
import tempfile
import unittest
import zoneinfo

from witmark_cli import BEACH, DepotTest, WITMARK, call, entry_of, main

COMMANDS = [re.split(r"  +", line.strip())[0] for line in call("help").stdout.splitlines() if line.startswith("  ")]
# The words of a command: those in small letters before its arguments.
WORDS = [" ".join(re.match(r"((?:[a-z-]+ ?)+)(?![|a-z])", c).group(1).split()) for c in COMMANDS]


class Help(unittest.TestCase):
    def test_every_command(self):
        self.assertGreater(len(WORDS), 40)
        for words in WORDS:
            with self.subTest(words):
                text = call(*words.split(), "--help").stdout
                self.assertTrue(text.startswith(f"usage: witmark {words}"), text)
                self.assertIn("--help", text)

    def test_version(self):
        self.assertRegex(call("--version").stdout, r"^witmark \d+\.\d+\.\d+\n$")

    def test_completion(self):
        script = call("completion").stdout
        self.assertEqual(subprocess.run(["bash", "-n"], input=script, text=True, check=False).returncode, 0)

        def complete(*words):
            ask = f'{script}\nCOMP_WORDS=({" ".join(words)}) COMP_CWORD={len(words) - 1}\n_witmark\nprintf "%s\\n" "${{COMPREPLY[@]}}"'
            with tempfile.TemporaryDirectory() as empty:  # files are offered too
                return subprocess.run(["bash", "-c", ask], capture_output=True, text=True, check=True, cwd=empty).stdout.split()

        self.assertEqual(complete("witmark", "rec"), ["record", "recover"])
        self.assertEqual(complete("witmark", "record", "put"), ["put-back"])
        self.assertIn("--scope=", complete("witmark", "round", "B-03", "--sc"))

    def test_manual(self):
        page = call("man").stdout
        for words in WORDS:
            self.assertIn("witmark " + words.replace("-", "\\-"), page)
        try:
            done = subprocess.run(["groff", "-ww", "-man", "-Tutf8"], input=page, capture_output=True, text=True, check=False)
        except FileNotFoundError:
            self.skipTest("groff is not here")
        self.assertEqual(done.stderr, "")


class Calls(DepotTest):
    def test_suggestions(self):
        for words, status, says in [
            (["recrod", "meter"], 2, "did you mean 'record meter'?"),
            (["record"], 2, "record reading, record meter"),
            (["round", "B-03", "--scop", "daily"], 2, "did you mean --scope?"),
            (["record", "reading", "B-03", "front-tyre-lefd", "1.5 bar"], 4, "front-tyre-left"),
            (["record", "put-back", "B-03", "bypas"], 4, "did you mean bypass?"),
            (["log", "list", "--kind", "reeding"], 2, "reading"),
            (["record", "meter", "BR6-2203", "700"], 4, BEACH),
            (["why", "B-03", "dailly"], 4, "daily"),
        ]:
            with self.subTest(words=words):
                self.refused(*words, status=status, says=says)

    def test_statuses(self):
        for words, status in [
            (["record", "meter", "B-03"], 2),
            (["record", "meter", "B-03", "700", "more"], 2),
            (["today", "--today", "2026-02-30"], 2),
            (["log", "list", "--since", "2026-13-01"], 2),
            (["round", "B-03", "--minutes", "-4"], 2),
            (["calc", "nothing-of-the-kind"], 4),
            (["machine", "show", "Z-99"], 4),
            (["log", "show", "ffffffff"], 4),
            (["record", "meter", "B-03", "700 bar"], 3),
            (["depot", "set", "colour", "red"], 2),
        ]:
            with self.subTest(words=words):
                self.refused(*words, status=status)
        self.assertEqual(call("today", depot=self.folder / "none.witmark", status=None).returncode, 4)
        self.assertFalse((self.folder / "none.witmark").exists())

    def test_json_of_every_query(self):
        for words in ["depot show", "depot check", "book list", "machine list", "machine show B-03", "log list", "log verify", "today",
                      "why B-03 daily", "round B-03 --scope daily", "kit B-03 --scope daily", "calc list"]:
            with self.subTest(words):
                self.assertIsInstance(self.answer(*words.split()), (dict, list))

    def test_standard_output_that_is_full(self):
        with open("/dev/full", "w", encoding="utf-8") as full:
            done = subprocess.run([WITMARK, "help"], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        self.assertEqual((done.returncode, done.stderr), (6, "witmark: cannot write to standard output\n"))


class Time(DepotTest):
    def at(self, written):
        entry = entry_of(self.call("record", "note", "clock", "--at", written).stdout)
        return self.answer("log", "show", entry)["at"]

    def test_days_of_change(self):
        """Local time that does not exist takes the offset before the gap, ambiguous time the first of the two: RFC 5545 3.3.5. In Lisbon
        the clock goes from 01:00 to 02:00 on 2026-03-29 and from 02:00 back to 01:00 on 2025-10-26 (tz database)."""
        for written, utc in [
            ("2026-03-29 00:59", "2026-03-29T00:59:00.000Z"),
            ("2026-03-29 01:30", "2026-03-29T01:30:00.000Z"),
            ("2026-03-29 02:00", "2026-03-29T01:00:00.000Z"),
            ("2025-10-26 00:30", "2025-10-25T23:30:00.000Z"),
            ("2025-10-26 01:30", "2025-10-26T00:30:00.000Z"),
            ("2025-10-26 02:00", "2025-10-26T02:00:00.000Z"),
            ("2026-03-29", "2026-03-29T11:00:00.000Z"),  # a bare day is noon
            ("2026-03-29T01:30:00+05:00", "2026-03-28T20:30:00.000Z"),
        ]:
            with self.subTest(written):
                self.assertEqual(self.at(written), utc)

    def test_against_another_reader_of_the_tz_database(self):
        zone = zoneinfo.ZoneInfo("Europe/Lisbon")
        for hours in range(0, 24 * 366, 24 * 7 + 5):
            moment = datetime.datetime(2024, 6, 1, tzinfo=datetime.timezone.utc) + datetime.timedelta(hours=hours)
            local = moment.astimezone(zone)
            if local.replace(fold=1).utcoffset() == local.utcoffset():
                with self.subTest(local=str(local)):
                    self.assertEqual(self.at(local.strftime("%Y-%m-%d %H:%M")), moment.strftime("%Y-%m-%dT%H:%M:00.000Z"))

    def test_future(self):
        self.refused("record", "note", "clock", "--at", "2999-01-01", status=3, says="future")


class Words(DepotTest):
    def test_units(self):
        """1.5 bar is 21.76 psi: 1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)."""
        self.call("record", "reading", "B-03", "front-tyre-left", "1.5 bar", "--with", "tyre temperature=20 degC")
        shows = {system: self.call("machine", "show", "B-03", "--units", system).stdout for system in ("as-written", "us")}
        self.assertIn("1.4 to 1.6 bar", shows["as-written"])
        self.assertRegex(shows["us"], r"20\.\d* to 23\.\d* psi")
        self.refused("today", "--units", "furlongs", status=2)

    def test_unit_that_does_not_fit(self):
        self.refused("record", "reading", "B-03", "front-tyre-left", "1.5 L", status=3, says="'1.5 L' is no pressure")

    def test_correct_and_withdraw(self):
        entry = entry_of(self.call("record", "meter", "B-03", "6550", "--at", "2026-06-05").stdout)
        self.refused("log", "correct", entry, "hours=655", status=3, says="reason")
        self.call("log", "correct", entry, "hours=656", "--reason", "typed a digit too many")
        shown = self.answer("log", "show", entry)
        self.assertEqual((shown["state"], shown["body"]["hours"]), ("corrected", 656))
        self.assertEqual(self.answer("machine", "show", "B-03")["meter"]["read_h"], 656)
        self.call("log", "correct", entry, "--withdraw", "--reason", "another machine's")
        self.assertEqual(self.answer("machine", "show", "B-03")["meter"]["read_h"], 655)
        self.assertEqual(json.loads(self.call("log", "verify", "--json").stdout), [])

    def test_put_back(self):
        self.refused("record", "put-back", "B-03", "bypass", status=5, says="not open")
        self.call("record", "opened", "B-03", "bypass")
        self.refused("record", "opened", "B-03", "bypass", status=5, says="open already")
        self.assertIn("bypass", [d["key"] for d in self.answer("today", "--machine", "B-03")["due"]])
        self.call("record", "put-back", "B-03", "bypass")
        self.assertNotIn("bypass", [d["key"] for d in self.answer("today", "--machine", "B-03")["due"]])

    def test_round_of_each_scope(self):
        self.call("machine", "add", "L72-2255", "--label", "M-05", "--in-service", "2026-05-20", "--at", "2026-05-20")
        self.call("record", "meter", "M-05", 45, "--at", "2026-06-10")
        for scope in (["-s", "daily"], ["-s", "due"], ["-w", "4"], ["--days", "3"], ["-s", "50-h"], ["-s", "change-engine-oil,battery-rest"],
                      ["-s", "due", "--minutes", "30"]):
            with self.subTest(scope=scope):
                round_ = self.answer("round", "M-05", *scope, "--today", "2026-06-11")
                self.assertGreater(len(round_["steps"]), 0)
                ends = [s["start_s"] + s["takes_s"] for s in round_["steps"]]
                self.assertEqual(ends, sorted(ends))
                self.assertLessEqual(round_["bound_s"], round_["moves_s"])
                if "--minutes" in scope:
                    self.assertLessEqual(round_["total_s"], 30 * 60)
                self.call("kit", "M-05", *scope, "--today", "2026-06-11")
        self.refused("round", "B-03", "-s", "dayly", status=4, says="daily")

    def test_run_stops_at_the_first_that_fails(self):
        path = self.write("lines", "# two that work\nrecord note 'one of them'\nrecord note two\nrecord note\nrecord note never\n")
        self.call("run", path, status=2)
        says = [e["says"] for e in self.answer("log", "list", "--kind", "note")]
        self.assertEqual(says, ["one of them", "two"])


main()
