#!/usr/bin/env python3
"""Fails when an #include goes against the arrows of ARCHITECTURE.md.

usage: arrows.py ROOT STAMP

Meson gives each library only the include paths it may use; this closes the ways around that: an include that climbs
("../"), a private header (*_internal.h) of another folder, and system headers the core must not know. It also finds
source files that no meson.build lists. The stamp is written only when nothing was found.
"""
import pathlib
import re
import sys

# What each folder of src/ may include, besides itself and the C library.
MAY = {
    "core": set(),
    "book": {"core"},
    "log": {"core"},
    "feed": {"core"},
    "desk": {"core", "book", "log", "feed"},
    "sheet": {"core"},
    "web": {"core", "desk"},
    "cli": {"core", "desk", "web", "book", "log"},
}
# Headers that would bring I/O, a clock, threads or a locale into the core. arena_libc.c is its one door to malloc.
CORE_FORBIDDEN = {
    "stdio.h", "time.h", "locale.h", "threads.h", "pthread.h", "signal.h", "fcntl.h", "unistd.h", "wchar.h",
    "sys/stat.h", "sys/types.h", "sys/time.h", "errno.h",
}
CORE_EXCEPT = {"arena_libc.c"}
INCLUDE = re.compile(r'^\s*#\s*include\s+([<"])([^>"]+)[>"]')


def main():
    root = pathlib.Path(sys.argv[1])
    src = root / "src"
    owners = {}
    for header in src.rglob("*.h"):
        part = header.relative_to(src).parts[0]
        name = "/".join(header.relative_to(src).parts[1:])
        owners.setdefault(name, set()).add(part)
        owners.setdefault(header.name, set()).add(part)
    found = []
    for path in sorted(list(src.rglob("*.c")) + list(src.rglob("*.h"))):
        part = path.relative_to(src).parts[0]
        listed = (path.parent / "meson.build")
        if path.suffix == ".c" and listed.exists() and f"'{path.name}'" not in listed.read_text():
            found.append(f"{path.relative_to(root)}: no meson.build of its folder lists this file")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            m = INCLUDE.match(line)
            if not m:
                continue
            kind, name = m.groups()
            at = f"{path.relative_to(root)}:{number}: "
            if kind == "<":
                if part == "core" and name in CORE_FORBIDDEN and path.name not in CORE_EXCEPT:
                    found.append(f"{at}the core may not include <{name}>: no I/O, clock, locale or thread there")
                continue
            if ".." in name.split("/"):
                found.append(f'{at}"{name}" climbs out of its folder; include it by its public name')
                continue
            owner = owners.get(name, set())
            if part in owner or not owner:
                if name.endswith("_internal.h") and "/" in name and not path.parent.as_posix().endswith(name.rsplit("/", 1)[0]):
                    found.append(f'{at}"{name}" is private to its folder')
                continue
            if not owner & MAY[part]:
                found.append(f'{at}{part} may not include "{name}" of {", ".join(sorted(owner))}; it may see '
                             f'{", ".join(sorted(MAY[part])) or "nothing but itself"}')
            elif name.endswith("_internal.h"):
                found.append(f'{at}"{name}" is private to {", ".join(sorted(owner))}')
    for line in found:
        print(line, file=sys.stderr)
    if found:
        sys.exit(1)
    stamp = pathlib.Path(sys.argv[2])
    if not stamp.exists():  # its content never changes, so nothing is rebuilt because of it
        stamp.write_text("/* Made by script/arrows.py: every #include follows the arrows. */\n", encoding="utf-8")


main()
