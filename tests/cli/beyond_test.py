"""People, the site's authority, tables and the calendar feed on the command line.

usage: beyond_test.py WITMARK
"""
import csv
import io
import json
import subprocess

from witmark_cli import BEACH, DepotTest, WITMARK, main

PASSWORD = "four quiet words here"


class People(DepotTest):
    def add(self, name, *more, password=PASSWORD, status=0):
        done = subprocess.run([WITMARK, "person", "add", name, *more, "--depot", str(self.depot)], input=password + "\n",
                              capture_output=True, text=True, check=False)
        self.assertEqual(done.returncode, status, done.stderr)
        return done

    def test_a_person_from_first_to_last(self):
        self.assertIn("nobody signs in", self.call("person", "list").stdout)
        self.add("Ines", "--role", "books")
        self.add("Marc")
        self.assertEqual(self.answer("person", "list"), [{"name": "Ines", "role": "books"}, {"name": "Marc", "role": "record"}])
        self.call("person", "role", "Marc", "plan")
        self.call("person", "remove", "Marc")
        self.assertEqual([p["name"] for p in self.answer("person", "list")], ["Ines"])

    def test_what_is_wrong_is_said(self):
        self.add("Ines", "--role", "books")
        self.assertIn("too short", self.add("Marc", password="seven77", status=3).stderr)
        self.assertIn("no role", self.add("Marc", "--role", "admin", status=2).stderr)
        self.assertIn("already", self.add("Ines", status=5).stderr)
        self.assertIn("did you mean Ines?", self.call("person", "role", "Inés", "look", status=4).stderr)
        self.add("Marc")
        self.assertIn("role books", self.call("person", "remove", "Ines", status=5).stderr)

    def test_passwords_stay_in_the_depot(self):
        """They are no evidence: an export does not carry them, and nothing shows them."""
        self.add("Ines", "--role", "books")
        exported = self.call("log", "export").stdout
        for said in (exported, self.call("depot", "show").stdout, self.call("person", "list", "--json").stdout):
            self.assertNotIn("argon2", said)
            self.assertNotIn(PASSWORD, said)
        self.assertNotIn(PASSWORD.encode(), self.depot.read_bytes())

    def test_beyond_this_machine_more_is_asked(self):
        self.assertIn("person add", self.call("serve", "--listen", "0.0.0.0", "--port", 0, status=5).stderr)
        self.add("Ines", "--role", "books")
        self.assertIn("authority make", self.call("serve", "--listen", "0.0.0.0", "--port", 0, status=5).stderr)
        self.assertIn("together", self.call("serve", "--certificate", "x", "--port", 0, status=2).stderr)


class Authority(DepotTest):
    def test_made_in_one_step_checked_and_renewed(self):
        made = self.answer("authority", "make", "--name", "depot.local", "--address", "192.168.1.20")
        self.assertEqual(made["names"], "depot.local,192.168.1.20")
        self.assertEqual(made["get"], "http://192.168.1.20:8076/")
        self.assertRegex(made["fingerprint"], r"^([0-9A-F]{2}:){31}[0-9A-F]{2}$")
        folder = self.folder / "depot.witmark.authority"
        for name in ("authority.key", "server.key"):
            self.assertEqual((folder / name).stat().st_mode & 0o777, 0o600)
        before = (folder / "authority.crt").read_bytes(), (folder / "server.crt").read_bytes()
        renewed = self.answer("authority", "renew")
        self.assertEqual(renewed["fingerprint"], made["fingerprint"])
        self.assertEqual((folder / "authority.crt").read_bytes(), before[0])
        self.assertNotEqual((folder / "server.crt").read_bytes(), before[1])
        self.assertEqual(self.answer("authority", "check")["findings"], [])

    def test_wrong_names_leave_everything_as_it_was(self):
        self.call("authority", "make", "--name", "depot.local", "--address", "192.168.1.20")
        server = self.folder / "depot.witmark.authority" / "server.crt"
        before = server.read_bytes()
        for words, status in ((["--name", "bad_name"], 3), (["--address", "300.1.1.1"], 3), (["--days", "900"], 2),
                              (["--name", "elsewhere.example", "--address", "192.168.1.20"], 3)):
            self.call("authority", "make", *words, status=status)
            self.assertEqual(server.read_bytes(), before)

    def test_nothing_made_yet(self):
        self.assertIn("authority make", self.call("authority", "check", status=4).stderr)
        self.assertIn("authority make", self.call("authority", "renew", status=4).stderr)


class Tables(DepotTest):
    def rows(self, *words):
        text = self.call(*words, "--csv", text=False).stdout
        self.assertNotIn(b"\n", text.replace(b"\r\n", b""))  # RFC 4180 2.1: CRLF
        return list(csv.DictReader(io.StringIO(text.decode(), newline="")))

    def test_tables_hold_what_json_says(self):
        due = self.answer("today")["due"]
        rows = self.rows("today")
        self.assertEqual([r["key"] for r in rows], [d["key"] for d in due])
        self.assertEqual([r["reserve.p50"] for r in rows], [d["reserve"]["p50"] or "" for d in due])
        self.assertEqual([r["serial"] for r in self.rows("machine", "list")], [m["serial"] for m in self.answer("machine", "list")])
        self.assertEqual([r["id"] for r in self.rows("log", "list")], [e["id"] for e in self.answer("log", "list")])

    def test_a_formula_is_text(self):
        self.call("record", "note", BEACH, "=HYPERLINK(1)", "--at", "2026-06-05")
        notes = [r for r in self.rows("log", "list") if r["kind"] == "note"]
        self.assertTrue(notes and all(not r["says"].startswith("=") for r in notes))

    def test_what_is_no_table_says_so(self):
        self.assertIn("--csv goes with", self.call("depot", "show", "--csv", status=2).stderr)


class Calendar(DepotTest):
    def test_the_feed(self):
        text = self.call("calendar", "feed", "--machine", BEACH, text=False).stdout
        self.assertTrue(text.startswith(b"BEGIN:VCALENDAR\r\n") and text.endswith(b"END:VCALENDAR\r\n"))
        uids = [line for line in text.split(b"\r\n") if line.startswith(b"UID:")]
        self.assertTrue(uids and len(set(uids)) == len(uids))
        self.call("calendar", "feed", "--within", 0, status=2)
        self.call("calendar", "feed", "--machine", "nobody", status=4)


if __name__ == "__main__":
    main()
