#!/usr/bin/env python3
"""Validates books against the JSON Schema as an editor does: the schema is itself valid, good books pass, a mistyped key fails.

usage: schema_check.py SCHEMA GOOD BOOK...

Exit status 77 (skipped) where the general-purpose libraries python3-jsonschema and python3-yaml are not installed.
"""
import json
import re
import sys

try:
    import jsonschema
    import yaml
except ImportError as missing:
    print(missing)
    sys.exit(77)


class Yaml12(yaml.SafeLoader):
    """The core schema of YAML 1.2: `off`, `yes` and `2027-03` are texts, only true and false are booleans."""


LEFT_OUT = ("tag:yaml.org,2002:bool", "tag:yaml.org,2002:timestamp")
Yaml12.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in rules if tag not in LEFT_OUT]
    for first, rules in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
Yaml12.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(true|false)$"), list("tf"))


def load(path):
    with open(path, encoding="utf-8") as file:
        return yaml.load(file, Yaml12)


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    wrong = 0
    for path in sys.argv[2:]:
        for error in validator.iter_errors(load(path)):
            best = jsonschema.exceptions.best_match([error])
            print(f"{path}: {list(best.absolute_path)}: {best.message[:200]}")
            wrong += 1
    spoiled = {
        "labor": lambda book: book["tasks"]["change-oil"].update(labor=3),
        "level": lambda book: book["cautions"]["hot"].update(level="HOT"),
        "book": lambda book: book.pop("book"),
        "mark": lambda book: book["figures"]["plan"]["marks"][1].update(at=[0.5, 1.5]),
        "places": lambda book: book.update(places=["seat"]),
    }
    for name, spoil in spoiled.items():
        book = load(sys.argv[2])
        spoil(book)
        if validator.is_valid(book):
            print(f"a book spoiled in {name} was accepted")
            wrong += 1
    sys.exit(1 if wrong else 0)


main()
