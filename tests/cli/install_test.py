"""What meson installs works where it lies: programs, manual page, completion, books, and the sheet found beside the program.

usage: install_test.py WITMARK BUILD
"""
import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

from witmark_cli import main

BUILD = sys.argv[2]


class Install(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        done = subprocess.run(["meson", "install", "-C", BUILD, "--no-rebuild", "--destdir", cls.folder.name], capture_output=True, text=True,
                              check=False)
        if done.returncode:
            raise AssertionError(done.stdout + done.stderr)
        cls.prefix = next(pathlib.Path(cls.folder.name).rglob("bin/witmark")).parent.parent

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def witmark(self, *words):
        env = {k: v for k, v in os.environ.items() if k != "WITMARK_SHEET"}
        return subprocess.run([self.prefix / "bin/witmark", *map(str, words)], capture_output=True, env=env, check=False)

    def test_programs_and_books(self):
        depot = pathlib.Path(self.folder.name) / "depot.witmark"
        books = sorted((self.prefix / "share/witmark/books").glob("*.yaml"))
        self.assertGreaterEqual(len(books), 3)
        self.assertEqual(self.witmark("book", "check", *books).returncode, 0)
        self.assertTrue((self.prefix / "share/witmark/books/book.schema.json").exists())
        self.assertEqual(self.witmark("depot", "new", "-d", depot).returncode, 0)
        self.assertEqual(self.witmark("book", "take", books[0], "-d", depot).returncode, 0)
        self.assertEqual(self.witmark("machine", "add", "BR6-02204", "-d", depot).returncode, 0)
        if not (self.prefix / "bin/witmark-sheet").exists():
            self.skipTest("witmark-sheet is not built: pango, cairo or libqrencode is missing")
        sheet = self.witmark("sheet", "BR6-02204", "-s", "daily", "-d", depot)
        self.assertEqual((sheet.returncode, sheet.stdout[:5]), (0, b"%PDF-"), sheet.stderr)

    def test_manual(self):
        page = self.prefix / "share/man/man1/witmark.1"
        self.assertTrue(page.read_text(encoding="utf-8").startswith(".TH WITMARK 1"))

    def test_completion(self):
        script = next((self.prefix / "share/bash-completion/completions").iterdir())
        ask = f'. {script}; COMP_WORDS=(witmark rec) COMP_CWORD=1; _witmark; echo "${{COMPREPLY[@]}}"'
        done = subprocess.run(["bash", "-c", ask], capture_output=True, text=True, check=True, cwd=self.prefix / "bin")
        self.assertEqual(done.stdout.split(), ["record", "recover"])


main()
