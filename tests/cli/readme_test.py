"""README.md tells the truth: the commands of its tour run one after the other, in a checkout with the demo depot.

usage: readme_test.py WITMARK
"""
import os
import pathlib
import subprocess
import sys
import tempfile

WITMARK = pathlib.Path(sys.argv[1]).resolve()
SOURCE = pathlib.Path(os.environ["WITMARK_SOURCE"])


def main():
    tour = [line[6:] for line in (SOURCE / "README.md").read_text(encoding="utf-8").splitlines() if line.startswith("    $ ")]
    wrong = 0 if tour else 1
    with tempfile.TemporaryDirectory() as folder:
        for name in ("books", "demo", "docs", "tests"):
            os.symlink(SOURCE / name, os.path.join(folder, name))
        depot = os.path.join(folder, ".depot", "demo.witmark")
        os.mkdir(os.path.dirname(depot))
        subprocess.run([SOURCE / "demo/make", "--depot", depot, "--witmark", WITMARK], check=True, stdout=subprocess.DEVNULL)
        env = dict(os.environ, PATH=f"{WITMARK.parent}:{os.environ['PATH']}", WITMARK_DEPOT=depot, WITMARK_BY="Ines")
        for n, command in enumerate(tour, 1):
            done = subprocess.run(["bash", "-c", command], cwd=folder, env=env, capture_output=True, text=True, check=False)
            # 1 is an answer with findings: a refused row of the spreadsheet, something that is open.
            fine = done.returncode in (0, 1) if " feed " in command or command.endswith("put-back") else done.returncode == 0
            # A round has a second; a build with sanitizers may need more for a long one. That is no lie of README.md.
            slow = not fine and "stopped before any round was found" in done.stderr
            wrong += not (fine or slow)
            print(f"{'ok' if fine or slow else 'not ok'} {n} - {command}{' # SKIP this build is too slow for it' if slow else ''}")
            if not (fine or slow):
                print(f"# status {done.returncode}: {done.stderr}")
    print(f"1..{len(tour)}")
    return 1 if wrong else 0


sys.exit(main())
