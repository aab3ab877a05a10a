#!/usr/bin/env python3
"""script/arrows.py finds each kind of forbidden include in a small tree, and nothing in the real one.

usage: arrows_test.py ARROWS.py ROOT
"""
import pathlib
import subprocess
import sys
import tempfile
import unittest

ARROWS, ROOT = sys.argv[1:3]

# A tree that is right: every folder of src with a header and a source file.
SOUND = {
    "src/core/base/text.h": "#include <stddef.h>\n",
    "src/core/base/text.c": '#include "base/text.h"\n#include <string.h>\n',
    "src/core/base/arena_libc.c": "#include <stdio.h>\n",
    "src/core/base/meson.build": "files('text.c', 'arena_libc.c')\n",
    "src/log/log.h": '#include "base/text.h"\n',
    "src/log/log_internal.h": "#include <time.h>\n",
    "src/log/log.c": '#include "log.h"\n#include "log_internal.h"\n',
    "src/log/meson.build": "files('log.c')\n",
    "src/desk/desk.h": '#include "log.h"\n',
    "src/desk/desk.c": '#include "desk.h"\n',
    "src/desk/meson.build": "files('desk.c')\n",
    "src/sheet/sheet.h": '#include "base/text.h"\n',
    "src/web/web.h": '#include "desk.h"\n',
    "src/cli/main.c": '#include "desk.h"\n#include "web.h"\n#include "log.h"\n',
    "src/cli/meson.build": "files('main.c')\n",
}

# What is wrong: file, what is added to it, and the message at its place.
WRONG = {
    "core sees log": ("src/core/base/text.c", '#include "log.h"\n',
                      'src/core/base/text.c:3: core may not include "log.h" of log; it may see nothing but itself'),
    "log sees desk": ("src/log/log.c", '#include "desk.h"\n', 'src/log/log.c:3: log may not include "desk.h" of desk; it may see core'),
    "web sees log": ("src/web/web.h", '#include "log.h"\n', 'src/web/web.h:2: web may not include "log.h" of log; it may see core, desk'),
    "desk sees sheet": ("src/desk/desk.c", '  #  include "sheet.h"\n', 'src/desk/desk.c:2: desk may not include "sheet.h" of sheet'),
    "climbs": ("src/desk/desk.c", '#include "../cli/cli.h"\n', 'src/desk/desk.c:2: "../cli/cli.h" climbs out of its folder'),
    "private header": ("src/desk/desk.c", '#include "log_internal.h"\n', 'src/desk/desk.c:2: "log_internal.h" is private to log'),
    "core does I/O": ("src/core/base/text.h", "#include <stdio.h>\n", "src/core/base/text.h:2: the core may not include <stdio.h>"),
    "core reads the clock": ("src/core/base/text.c", "#include <time.h>\n", "src/core/base/text.c:3: the core may not include <time.h>"),
    "core starts threads": ("src/core/base/text.c", "#include <pthread.h>\n", "src/core/base/text.c:3: the core may not include <pthread.h>"),
    "nobody builds it": ("src/log/forgotten.c", "int forgotten;\n", "src/log/forgotten.c: no meson.build of its folder lists this file"),
}


def check(root, stamp):
    return subprocess.run([sys.executable, ARROWS, root, stamp], capture_output=True, text=True, check=False)


class Arrows(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.root = pathlib.Path(self.folder.name)
        self.stamp = self.root / "arrows.h"
        for name, text in SOUND.items():
            self.write(name, text)

    def tearDown(self):
        self.folder.cleanup()

    def write(self, name, text):
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(path, "a", encoding="utf-8") as f:
            f.write(text)

    def test_sound_tree(self):
        done = check(self.root, self.stamp)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertTrue(self.stamp.exists())

    def test_each_wrong(self):
        for name, (path, added, message) in WRONG.items():
            with self.subTest(name):
                before = (self.root / path).read_text(encoding="utf-8") if (self.root / path).exists() else None
                self.write(path, added)
                done = check(self.root, self.stamp)
                self.assertEqual(done.returncode, 1)
                self.assertEqual(len(done.stderr.splitlines()), 1, done.stderr)
                self.assertTrue(done.stderr.startswith(message), done.stderr)
                self.assertFalse(self.stamp.exists())
                (self.root / path).unlink()
                if before is not None:
                    self.write(path, before)

    def test_all_in_one_go(self):
        for path, added, _ in WRONG.values():
            self.write(path, added)
        self.assertEqual(len(check(self.root, self.stamp).stderr.splitlines()), len(WRONG))

    def test_real_tree(self):
        done = check(ROOT, self.stamp)
        self.assertEqual((done.returncode, done.stderr), (0, ""))


unittest.main(argv=[sys.argv[0], "-v"])
