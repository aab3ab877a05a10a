"""The three demo books walked through on the command line: a chattering attachment's load-holding screw and a flush valve settled in
counted steps, a dead machine moved 200 m and put back, and handing back only what is whole. Sums and limits are added up by hand."""
import json
import unittest

from witmark_cli import SCRATCH, SOURCE, answer, call, main

# Of each book: machine, the screw of its attachment, what is confirmed, the limit of its tow (books/*.yaml).
BOOKS = {
    "brine6": ("BR6-02031", "rake-counterbalance", "load-supported,pressure-relieved,oil-warm", 300),
    "lark72": ("L72-1344", "deck-counterbalance", "load-supported,pressure-relieved,oil-warm", 400),
    "stoat24": ("ST24-01520", "lift-counterbalance", "load-supported,pressure-relieved,oil-warm", 200),
}


class Walk(unittest.TestCase):
    count = 0

    def setUp(self):
        Walk.count += 1
        self.depot = f"{SCRATCH.name}/walk{Walk.count}.witmark"
        call("depot", "new", "--zone", "Europe/Lisbon", "--seed", 9, "--name", "Port Sennet", depot=self.depot)

    def take(self, book):
        serial = BOOKS[book][0]
        call("book", "take", SOURCE / f"books/{book}.yaml", depot=self.depot)
        call("machine", "add", serial, "--label", "X-1", "--at", "2026-01-10", depot=self.depot)

    def do(self, *words, status=0):
        return call(*words, depot=self.depot, status=status)

    def ledger(self, adjuster):
        return answer("adjust", "X-1", adjuster, depot=self.depot)

    def open_items(self):
        done = call("put-back", "X-1", "--json", depot=self.depot, status=None)
        return [i["item"] for i in json.loads(done.stdout)]

    def test_chattering_attachment(self):
        for book, (_, screw, confirmed, _) in BOOKS.items():
            with self.subTest(book=book):
                self.setUp()
                self.take(book)
                adjust = lambda *words, status=0: self.do("adjust", "X-1", screw, *words, status=status)
                refused = lambda *words: adjust(*words, status=5).stderr
                self.assertIn("not confirmed: load-supported", refused("--turn", "+1.5"))
                self.assertIn("first step", refused("--turn", "+2", "--confirmed", confirmed))
                self.assertIn("wrong direction", refused("--turn", "-1/2", "--confirmed", confirmed))
                adjust("--turn", "+1.5", "--confirmed", confirmed)
                self.assertEqual(self.open_items(), [screw])
                if book != "brine6":  # the long way is walked once
                    adjust("--back", "--confirmed", confirmed)
                    self.assertEqual((self.open_items(), self.ledger(screw)["from_found"]["turns"]), ([], 0))
                    continue
                self.assertIn("nobody has said", refused("--turn", "+1/2", "--confirmed", confirmed))
                adjust("--saw", "less")
                adjust("--turn", "1/2 in", "--saw", "less", "--confirmed", confirmed)
                now = self.ledger(screw)
                self.assertEqual((now["from_accepted"]["turns"], now["way_back"]["turns"]), (2, -2))
                self.assertEqual((now["next"]["advice"], now["next"]["turns"]["turns"]), ("turn", 0.5))
                # Handing over: another person, another day; the ledger is the depot's.
                self.assertIn("stands 2 turns in", self.do("hand-back", "X-1", status=5).stderr)
                self.assertIn("undone by turns", self.do("record", "put-back", "X-1", screw, status=5).stderr)
                adjust("--undo", "--confirmed", confirmed)
                self.assertEqual(self.ledger(screw)["from_accepted"]["turns"], 1.5)
                adjust("--undo", "--confirmed", confirmed)
                self.assertEqual(self.ledger(screw)["from_accepted"]["turns"], 2)
                adjust("--turn", "+1/2", "--saw", "gone", "--accept", "--confirmed", confirmed, "--by", "Tobiah")
                now = self.ledger(screw)
                self.assertEqual((now["from_accepted"]["turns"], now["from_found"]["turns"]), (0, 2.5))
                self.assertEqual(self.open_items(), [])
                self.assertIn("at most", refused("--turn", "+2", "--confirmed", confirmed))
                self.do("hand-back", "X-1", "--to", "the driver")
                adjust("--back-to-found", "--confirmed", confirmed)
                self.assertEqual(self.ledger(screw)["from_found"]["turns"], 0)

    def test_flush_valve(self):
        self.take("lark72")
        confirmed = ["--confirmed", "wheels-chocked,pressure-relieved,oil-warm"]
        self.do("adjust", "X-1", "flush-valve", "--turn", "1/2 out", "--saw", "same", *confirmed)
        # Another valve of the same circuit is not touched meanwhile.
        other = self.do("adjust", "X-1", "charge-valve", "--turn", "1/4 in", "--confirmed",
                        "gauge-fitted,pressure-relieved,oil-warm", status=5)
        self.assertIn("same circuit", other.stderr)
        self.do("adjust", "X-1", "flush-valve", "--turn", "1/2 out", "--saw", "worse", *confirmed)
        self.assertEqual(self.ledger("flush-valve")["next"]["advice"], "back")
        self.do("adjust", "X-1", "flush-valve", "--back", *confirmed)
        now = self.ledger("flush-valve")
        self.assertEqual((now["from_found"]["count"], now["trial_open"]), (0, False))

    def test_correction_moves_the_way_back(self):
        self.take("brine6")
        done = self.do("record", "turn", "X-1", "rake-relief", "1/4 in").stdout
        entry = next(line.split()[1] for line in done.splitlines() if line.startswith("entry "))
        self.do("log", "correct", entry, "turns=0.125", "--reason", "it was an eighth")
        self.assertEqual(self.ledger("rake-relief")["way_back"]["turns"], -0.125)
        self.do("log", "correct", entry, "--withdraw", "--reason", "another machine")
        self.assertEqual(self.ledger("rake-relief")["way_back"]["turns"], 0)
        self.assertEqual(self.open_items(), [])

    def test_towed(self):
        for book, (_, _, _, limit) in BOOKS.items():
            with self.subTest(book=book):
                self.setUp()
                self.take(book)
                plan = answer("recover", "X-1", "--distance", "200 m", "--slope", "3 %", depot=self.depot)
                self.assertEqual(plan["limits"]["distance"]["limit_si"], limit)
                self.assertFalse(plan["exceeded"])
                self.assertTrue(all(tool["stowed"] for tool in plan["tools"]))
                far = call("recover", "X-1", "--distance", f"{limit + 1} m", depot=self.depot, status=5)
                self.assertIn("at most", far.stdout)
                if book == "lark72":
                    continue  # the way out and back is walked with the two others
                for _ in plan["out"]:
                    self.do("recover", "X-1", "--did")
                self.do("record", "moved", "X-1", "120 m", "--time", "5 min")
                self.do("record", "moved", "X-1", "80 m", "--time", "4 min")
                now = answer("recover", "X-1", depot=self.depot)
                self.assertEqual((now["phase"], now["distance_m"], now["exceeded"]), ("on the move", 200, False))
                self.assertEqual(now["limits"]["distance"]["left"], "0 m" if limit == 200 else f"{limit - 200} m")
                self.do("hand-back", "X-1", status=5)
                for _ in plan["back"]:
                    self.do("recover", "X-1", "--did")
                self.assertEqual(self.open_items(), [])
                self.do("hand-back", "X-1")
                if book == "stoat24":
                    continue
                self.assertIn("fits together", self.do("log", "check").stdout)
                # A tow too far is written down all the same, and found.
                for _ in plan["out"]:
                    self.do("recover", "X-1", "--did")
                self.assertIn("LIMIT EXCEEDED", self.do("record", "moved", "X-1", f"{limit + 1} m").stdout)
                self.assertIn("limit of distance", self.do("log", "check", status=1).stdout)

    def test_turned_round(self):
        self.take("brine6")
        for _ in range(2):
            self.do("recover", "X-1", "--did")
        self.assertEqual(self.open_items(), ["tow-chocks", "tow-bar"])
        for _ in range(2):
            self.do("recover", "X-1", "--turn-round")
        self.assertEqual(self.open_items(), [])
        self.do("recover", "X-1", "--turn-round", status=5)

    def test_handed_back_all_the_same(self):
        self.take("brine6")
        self.do("record", "opened", "X-1", "bypass")
        self.do("record", "burn", "X-1", "inhibited")
        self.assertEqual(self.open_items(), ["bypass", "burning-inhibited"])
        said = self.do("hand-back", "X-1", status=5).stderr
        self.assertIn("2 things are open", said)
        self.do("hand-back", "X-1", "--despite", "goes on the trailer as it is", "--to", "Maro")
        entries = answer("log", "list", "--kind", "handed-back", depot=self.depot)
        entries = entries["entries"] if isinstance(entries, dict) else entries
        self.assertEqual([i["what"] for i in entries[-1]["body"]["open"]], ["bypass", "burning-inhibited"])
        self.assertEqual(self.open_items(), ["bypass", "burning-inhibited"])
        self.assertIn("fits together", self.do("log", "check").stdout)
        self.do("record", "burn", "X-1", "released")
        self.do("record", "put-back", "X-1", "bypass")
        self.do("hand-back", "X-1", "--despite", "no reason", status=2)

    def test_log_against_the_book(self):
        self.take("brine6")
        self.do("record", "opened", "X-1", "sump-plug", "--at", "2026-03-01 08:00")
        self.do("record", "done", "X-1", "change-engine-oil", "--at", "2026-03-01 10:00")
        said = self.do("log", "check", "X-1", status=1).stdout
        self.assertIn("The sump plug is out", said)
        self.assertIn("still is", said)
        self.do("record", "put-back", "X-1", "sump-plug", "--at", "2026-03-01 11:00")
        said = self.do("log", "check", "X-1").stdout
        self.assertIn("put back later", said)


main()
