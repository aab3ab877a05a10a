"""kill -9 at random moments: what was acknowledged is there, nothing is there by half, and every chain verifies.

usage: kill_test.py WITMARK [SEED]
"""
import random
import shutil
import signal
import subprocess
import sys
import time

from witmark_cli import DepotTest, WITMARK, answer, call, digest, entry_of, main

SEED = int(sys.argv[2]) if len(sys.argv) > 2 else 20260906
ROUNDS = 6


class Kill(DepotTest):
    def setUp(self):
        super().setUp()
        self.rng = random.Random(f"{SEED} {self.id()}")
        print(f"# seed {SEED}")

    def killed(self, words, depot, longest):
        """Starts witmark and kills it within `longest` seconds; what it had printed by then."""
        process = subprocess.Popen([WITMARK, *map(str, words), "--depot", str(depot)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                                   text=True)
        time.sleep(self.rng.random() * longest)
        process.send_signal(signal.SIGKILL)
        return process.communicate()[0]

    def seconds(self, words, depot):
        start = time.monotonic()
        call(*words, depot=depot)
        return time.monotonic() - start

    def sound(self, depot):
        self.assertEqual(answer("log", "verify", depot=depot), [])

    def sheet(self, rows):
        lines = ["Date;Unit no;Hours;Front left tyre (bar);Who"]
        lines += [f"{1 + i % 28:02}.{1 + i // 28:02}.2026;M-02;{400 + i / 10:.1f};1,{i % 10};Ines".replace(".0;", ";") for i in range(rows)]
        return self.write("sheet.csv", "\n".join(lines) + "\n")

    def test_record(self):
        """A file of many records, as a tablet would send them: each is acknowledged on standard output once it is kept."""
        lines = self.write("lines", "".join(f"record note 'number {i}'\n" for i in range(200)))
        longest = self.seconds(["run", lines], shutil.copy(self.depot, self.folder / "timed.witmark"))
        for _ in range(ROUNDS):
            said = self.killed(["run", lines], self.depot, longest)
            kept = {e["id"] for e in self.answer("log", "list", "--kind", "note")}
            # The last line may have been cut by the kill: an id counts when it is whole.
            for line in said.splitlines():
                entry = entry_of(line)
                if entry:
                    self.assertIn(entry, kept)
            self.sound(self.depot)

    def test_feed(self):
        """A sheet is one step: all of it or nothing."""
        words = ["feed", "csv", self.sheet(120), "dates=day-first", "--take", "--skip-refused"]
        full = shutil.copy(self.depot, self.folder / "full.witmark")
        start = time.monotonic()
        call(*words, depot=full, status=None)
        longest = time.monotonic() - start
        many = len(answer("log", "list", depot=full))
        before = len(self.answer("log", "list"))
        self.assertGreater(many, before + 100)
        for _ in range(ROUNDS):
            depot = shutil.copy(self.depot, self.folder / "killed.witmark")
            said = self.killed(words, depot, longest * 1.1)
            kept = len(answer("log", "list", depot=depot))
            self.assertIn(kept, (before, many))
            if "entries added" in said:
                self.assertEqual(kept, many)
            self.sound(depot)
            call(*words, depot=depot, status=None)
            self.assertEqual(len(answer("log", "list", depot=depot)), many)
            for end in ("", "-wal", "-shm"):
                (self.folder / f"killed.witmark{end}").unlink(missing_ok=True)

    def test_import(self):
        lines = self.write("lines", "".join(f"record note 'number {i}'\n" for i in range(150)))
        self.call("run", lines)
        export = self.write("export.ndjson", b"")
        self.call("log", "export", "-o", export)
        whole = self.answer("log", "list")
        empty = self.folder / "empty.witmark"
        call("depot", "new", "--seed", 9, depot=empty)
        longest = self.seconds(["log", "import", export], shutil.copy(empty, self.folder / "timed.witmark"))
        for i in range(ROUNDS):
            depot = shutil.copy(empty, self.folder / f"killed{i}.witmark")
            said = self.killed(["log", "import", export], depot, longest * 1.1)
            self.sound(depot)
            if "entries added" in said:
                self.assertEqual(len(answer("log", "list", depot=depot)), len(whole))
            call("log", "import", export, depot=depot)
            self.assertEqual([e["hash"] for e in answer("log", "list", depot=depot)], [e["hash"] for e in whole])
            self.sound(depot)

    def test_backup(self):
        copy = self.folder / "copy"
        longest = self.seconds(["depot", "backup", copy], self.depot)
        for _ in range(ROUNDS):
            copy.unlink(missing_ok=True)
            said = self.killed(["depot", "backup", copy], self.depot, longest * 1.1)
            if "verified" in said:
                self.assertTrue(copy.exists())
            if copy.exists():  # what bears the name is whole
                self.assertEqual(digest(copy), digest(self.depot))
                self.sound(copy)
            self.sound(self.depot)
        self.call("depot", "backup", copy, "--replace")
        self.assertEqual(digest(copy), digest(self.depot))


main()
