"""Files on the command line: wrong ones are refused in one line and change nothing; right ones add what is new, once.

usage: files_test.py WITMARK
"""
import hashlib
import json
import os

from witmark_cli import DATA, DepotTest, SHARED, answer, call, digest, main

SHEET = """Date;Unit no;Hours;Front left tyre (bar);Work done;Who
04.05.2026;B-03;612,5;1,5;;Ines
11.05.2026;B-03;630;1,45;;Ines
11.05.2026;M-02;388,0;;;Maro
18.05.2026;B-03;641,5;1,5;Drain the water separator;Ines
"""
RECORDING = DATA / "can" / "depot_mower.log"
TRACTOR = SHARED / "can" / "logs" / "utility_tractor_start_neutral.log"


class Wrong(DepotTest):
    """Each command that takes a file, with each kind of wrong file."""

    # command, {} = the file; kinds of file that are right for it
    COMMANDS = [
        (["feed", "csv", "{}", "--take"], ()),
        (["feed", "bus", "{}", "--machine", "M-02", "--take"], ()),
        (["feed", "signals", "{}"], ()),
        (["log", "import", "{}"], ("empty",)),
        (["book", "take", "{}"], ()),
        (["book", "check", "{}"], ()),
        (["book", "diff", "{}"], ()),
        (["record", "attachment", "B-03", "{}"], ("binary", "huge line")),
        (["run", "{}"], ("empty",)),
    ]

    def test_wrong_files(self):
        kinds = {
            "missing": self.folder / "missing",
            "folder": self.folder,
            "binary": self.write("binary", hashlib.shake_256(b"witmark").digest(5000)),
            "empty": self.write("empty", b""),
            "huge line": self.write("huge", b"x" * 3_000_000),
        }
        for words, right in self.COMMANDS:
            for kind, path in kinds.items():
                with self.subTest(f"{' '.join(words[:2])}: {kind}"):
                    before = digest(self.depot)
                    done = self.call(*[str(path) if w == "{}" else w for w in words], status=None)
                    if kind in right:
                        self.assertEqual(done.returncode, 0, done.stderr)
                        continue
                    self.assertIn(done.returncode, (1, 2, 3, 4, 6), done.stdout + done.stderr)
                    said = done.stderr if done.stderr else done.stdout  # book check gives its findings as its answer
                    self.assertNotIn("Sanitizer", said)
                    self.assertLess(len(said), 4000, "a wrong file is not to be repeated in full")
                    if words[0] != "book" and words[1] != "signals":  # those tell all findings in one go
                        # run adds the line of its file at which it stopped
                        self.assertEqual(len(said.splitlines()), 2 if words[0] == "run" and "stopped at" in said else 1, said)
                    self.assertEqual(digest(self.depot), before)

    def test_depot_that_is_none(self):
        for kind, data in (("text", b"not a depot at all\n" * 100), ("empty", b"")):
            with self.subTest(kind):
                path = self.write("none.witmark", data)
                done = call("today", depot=path, status=None)
                self.assertIn(done.returncode, (3, 4, 6))
                self.assertEqual(len(done.stderr.splitlines()), 1, done.stderr)
                self.assertEqual(path.read_bytes(), data)
        done = call("today", depot=self.folder, status=None)
        self.assertIn(done.returncode, (3, 4, 6))

    def test_new_does_not_overwrite(self):
        self.refused("depot", "new", status=5)

    def test_output_that_cannot_be_written(self):
        self.refused("log", "export", "-o", self.folder / "no" / "such" / "place", status=6)
        self.refused("depot", "backup", self.folder / "no" / "such" / "place", status=6)


class Feeds(DepotTest):
    def test_sheet_twice(self):
        path = self.write("season.csv", SHEET)
        before = digest(self.depot)
        dry = self.answer("feed", "csv", path, "dates=day-first")
        self.assertEqual((dry["added"], dry["refused"]), (0, 0))
        self.assertEqual(digest(self.depot), before)
        taken = self.answer("feed", "csv", path, "dates=day-first", "--take")
        self.assertEqual(taken["added"], 4 + 3 + 1)  # meters, tyres, a task
        after = digest(self.depot)
        again = self.answer("feed", "csv", path, "dates=day-first", "--take")
        self.assertEqual((again["added"], again["known"]), (0, 8))
        self.assertEqual(digest(self.depot), after)
        self.assertEqual(self.answer("log", "verify"), [])

    def test_sheet_all_or_nothing(self):
        path = self.write("season.csv", SHEET + "25.05.2026;B-99;700;;;Ines\n")
        before = digest(self.depot)
        self.call("feed", "csv", path, "dates=day-first", "--take", status=None)
        self.assertEqual(digest(self.depot), before)
        self.assertEqual(self.answer("feed", "csv", path, "dates=day-first", "--take", "--skip-refused", status=1)["added"], 8)

    def test_recording_twice(self):
        before = digest(self.depot)
        dry = self.answer("feed", "bus", RECORDING, "-m", "M-02")
        self.assertEqual(digest(self.depot), before)
        taken = self.answer("feed", "bus", RECORDING, "-m", "M-02", "--take")
        self.assertEqual(taken["added"], dry["take"] + dry["doubtful"])
        self.assertGreater(taken["added"], 10)
        after = digest(self.depot)
        self.assertEqual(self.answer("feed", "bus", RECORDING, "-m", "M-02", "--take")["added"], 0)
        self.assertEqual(digest(self.depot), after)

    def test_real_recording_ends_on_today(self):
        """The cold start of a real tractor at 138.2 h (see its expected signals): its meter and voltage are the machine's."""
        if not TRACTOR.exists():
            self.skipTest("the public recordings of $WITMARK_SHARED/can/logs are not here")
        self.call("machine", "add", "L72-2255", "--label", "M-05", "--in-service", "2026-05-01", "--at", "2026-05-01")
        self.call("record", "meter", "M-05", 100, "--at", "2026-08-20")
        self.call("record", "done", "M-05", "grease-machine", "--hours", 80, "--at", "2026-08-01")
        before = self.answer("today", "--machine", "M-05", "--today", "2026-08-21")["due"]
        self.assertNotIn("grease-machine", [d["key"] for d in before if d["urgency"] == 0])
        feed = ["feed", "bus", TRACTOR, "-m", "M-05", "started=2026-09-04 07:10", "--take"]
        self.assertGreater(self.answer(*feed)["added"], 5)
        self.assertEqual(self.answer(*feed)["added"], 0)
        machine = self.answer("machine", "show", "M-05", "--today", "2026-09-04")
        self.assertAlmostEqual(machine["meter"]["read_h"], 138.2, delta=0.06)
        after = self.answer("today", "--machine", "M-05", "--today", "2026-09-04")["due"]
        over = [d for d in after if d["key"] == "grease-machine"]
        self.assertEqual(over[0]["urgency"], 0)
        # 138.2 - 80 - 50 at the reading, and what the rest of that day adds at some 2.5 h a day
        self.assertAlmostEqual(over[0]["reserve"]["hours_left"], -8.2, delta=2.5)
        because = json.dumps(self.answer("why", "M-05", "grease-machine", "--today", "2026-09-04"))
        self.assertIn("138.2 h", because)


class Merge(DepotTest):
    def test_union_in_both_orders(self):
        """Two depots that went apart hold the same after exchanging their exports, whichever comes first, however often."""
        other = self.folder / "other.witmark"
        call("depot", "new", "--zone", "Europe/Lisbon", "--seed", 8, depot=other)
        exports = []
        for i, depot in enumerate((self.depot, other)):
            call("record", "note", f"from {i}", depot=depot)
            path = self.write(f"{i}.ndjson", b"")
            call("log", "export", "-o", path, depot=depot)
            exports.append(path)
        merged = []
        for order in ((0, 1), (1, 0), (1, 1, 0, 0, 1)):
            fresh = self.folder / f"fresh{len(merged)}.witmark"
            call("depot", "new", "--zone", "Europe/Lisbon", "--seed", 20 + len(merged), depot=fresh)
            for i in order:
                call("log", "import", exports[i], depot=fresh)
            self.assertEqual(answer("log", "import", exports[0], depot=fresh)["entries_added"], 0)
            self.assertEqual(answer("log", "verify", depot=fresh), [])
            merged.append([(e["id"], e["hash"]) for e in answer("log", "list", depot=fresh)])
        self.assertEqual(merged[0], merged[1])
        self.assertEqual(merged[0], merged[2])
        self.assertEqual({i["says"] for i in answer("log", "list", "--kind", "note", depot=fresh)}, {"from 0", "from 1"})

    def test_altered_export_is_refused(self):
        path = self.write("export.ndjson", b"")
        self.call("log", "export", "-o", path)
        other = self.folder / "other.witmark"
        call("depot", "new", depot=other)
        before = digest(other)
        altered = self.write("altered.ndjson", path.read_bytes().replace(b'"hours":655', b'"hours":555'))
        self.assertNotEqual(altered.read_bytes(), path.read_bytes())
        call("log", "import", altered, depot=other, status=3)
        self.assertEqual(digest(other), before)

    def test_backup_and_restore(self):
        copy = self.folder / "copy"
        self.call("depot", "backup", copy)
        self.assertEqual(digest(copy), digest(self.depot))
        before = digest(self.depot)
        self.call("record", "note", "later")
        self.refused("depot", "backup", copy, status=5)
        self.call("depot", "restore", copy, "--replace")
        self.assertEqual(digest(self.depot), before)
        self.assertTrue(os.path.exists(f"{self.depot}.before-restore"))


main()
