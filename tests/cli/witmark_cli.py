"""What the tests of the command line share: a depot to start from, calls of the program, and results as TAP.

The depot is made once per test program by the public commands; each test works on a copy.
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

WITMARK = sys.argv[1]
SOURCE = pathlib.Path(os.environ["WITMARK_SOURCE"])
DATA = pathlib.Path(os.environ["WITMARK_DATA"])
SHARED = pathlib.Path(os.environ["WITMARK_SHARED"])
SCRATCH = tempfile.TemporaryDirectory(prefix="witmark-cli-")
BEACH, MOWER = "BR6-02204", "L72-1344"


def call(*words, depot=None, status=0, text=True, **options):
    """Runs witmark; the status must be the expected one (None = any)."""
    command = [WITMARK, *map(str, words)] + (["--depot", str(depot)] if depot else [])
    env = dict(os.environ, WITMARK_BY="Ines")
    env.pop("WITMARK_DEPOT", None)
    done = subprocess.run(command, capture_output=True, text=text, env=env, timeout=100, check=False, **options)
    if status is not None and done.returncode != status:
        raise AssertionError(f"{' '.join(command)}\nstatus {done.returncode}, expected {status}\n{done.stdout}{done.stderr}")
    return done


def answer(*words, depot=None, status=0):
    """The answer as JSON."""
    return json.loads(call(*words, "--json", depot=depot, status=status).stdout)


def digest(depot):
    """Over all that the depot holds."""
    return answer("depot", "show", depot=depot)["digest"]


def _template():
    path = pathlib.Path(SCRATCH.name) / "template.witmark"
    if not path.exists():
        call("depot", "new", "--zone", "Europe/Lisbon", "--seed", 7, "--name", "Port Sennet", depot=path)
        call("book", "take", SOURCE / "books/brine6.yaml", SOURCE / "books/lark72.yaml", depot=path)
        call("machine", "add", BEACH, "--label", "B-03", "--with", "cab,exhaust-filter", "--in-service", "2024-03-01",
             "--at", "2024-03-01", depot=path)
        call("machine", "add", MOWER, "--label", "M-02", "--in-service", "2024-03-01", "--at", "2024-03-01", depot=path)
        call("record", "meter", "B-03", 610, "--at", "2026-05-04", depot=path)
        call("record", "meter", "B-03", 655, "--at", "2026-06-04", depot=path)
    return path


def entry_of(done):
    """The id of the entry that a record command says it made; none when it did not get so far."""
    words = [line.split()[1] for line in done.splitlines() if line.startswith("entry ") and len(line.split()) == 2]
    return words[0] if words and len(words[0]) == 36 else None


class DepotTest(unittest.TestCase):
    """Each test has a folder and a copy of the depot in it."""

    def setUp(self):
        self.folder = pathlib.Path(tempfile.mkdtemp(dir=SCRATCH.name))
        self.depot = self.folder / "depot.witmark"
        shutil.copy(_template(), self.depot)

    def tearDown(self):
        shutil.rmtree(self.folder)

    def call(self, *words, **options):
        return call(*words, depot=self.depot, **options)

    def answer(self, *words, **options):
        return answer(*words, depot=self.depot, **options)

    def refused(self, *words, status, says=""):
        """The call fails with one line on stderr that holds `says`, and changes nothing in the depot."""
        before = digest(self.depot)
        done = self.call(*words, status=status)
        self.assertEqual(len(done.stderr.splitlines()), 1, done.stderr)
        self.assertTrue(done.stderr.startswith("witmark: "), done.stderr)
        self.assertIn(says, done.stderr)
        self.assertEqual(digest(self.depot), before)

    def write(self, name, data):
        path = self.folder / name
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return path


class _Tap(unittest.TestResult):
    def __init__(self):
        super().__init__()
        self.n = 0

    def _line(self, ok, test, more=""):
        self.n += 1
        print(f"{'ok' if ok else 'not ok'} {self.n} - {test.id().split('.', 1)[1]}{more}", flush=True)

    def addSuccess(self, test):
        self._line(True, test)

    def addSkip(self, test, reason):
        super().addSkip(test, reason)
        self._line(True, test, f" # SKIP {reason}")

    def _bad(self, test, error):
        for line in self._exc_info_to_string(error, test).splitlines():
            print(f"# {line}")
        self._line(False, test)

    def addFailure(self, test, err):
        super().addFailure(test, err)
        self._bad(test, err)

    def addError(self, test, err):
        super().addError(test, err)
        self._bad(test, err)

    def addSubTest(self, test, subtest, err):
        super().addSubTest(test, subtest, err)
        if err is not None:
            print(f"# in {subtest._subDescription()}")
            self._bad(test, err)


def main():
    """Runs all tests of the calling program."""
    suite = unittest.defaultTestLoader.loadTestsFromModule(sys.modules["__main__"])
    result = _Tap()
    suite.run(result)
    print(f"1..{result.n}")
    SCRATCH.cleanup()
    sys.exit(0 if result.wasSuccessful() else 1)
