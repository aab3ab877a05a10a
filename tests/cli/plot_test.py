"""Pictures of checkpoints: what was recorded is what is drawn, in every form.

usage: plot_test.py WITMARK
"""
import xml.etree.ElementTree as tree

from witmark_cli import DepotTest, call, main

SVG = "{http://www.w3.org/2000/svg}"


class Plots(DepotTest):
    def setUp(self):
        super().setUp()
        for day, bar in [("2026-04-02", 1.52), ("2026-05-02", 1.5), ("2026-06-01", 1.48), ("2026-07-01", 1.46)]:
            self.call("record", "reading", "B-03", "front-tyre-left", f"{bar} bar", "-w", "tyre=20 degC", "--at", day)
        self.call("record", "done", "B-03", "change-engine-oil", "--hours", "640", "--at", "2026-05-24")

    def drawing(self, *words):
        return tree.fromstring(self.call("plot", *words, "--format", "svg", "--today", "2026-07-10").stdout)

    def test_readings_are_drawn(self):
        plot = self.answer("plot", "B-03", "front-tyre-left", "--today", "2026-07-10")[0]
        self.assertEqual(plot["unit"], "bar")
        self.assertEqual([round(r["y"], 6) for r in plot["readings"]], [1.52, 1.5, 1.48, 1.46])  # at 20 degC nothing is corrected
        self.assertEqual([r["x"][:10] for r in plot["readings"]], ["2026-04-02", "2026-05-02", "2026-06-01", "2026-07-01"])
        svg = self.drawing("B-03", "front-tyre-left")
        self.assertEqual(len(svg.findall(f"{SVG}circle")), 4)
        # A straight line of 0.02 bar a month reaches its lower limit of 1.4 bar three months after 1.46 bar.
        self.assertEqual(plot["low"], 1.4)
        self.assertRegex(plot["p50"], r"^2026-(09-2|09-30|10-0)")
        self.assertLess(plot["p10"], plot["p50"])
        self.assertLess(plot["p50"], plot["p90"] or "9999")

    def test_hours_since_done(self):
        plot = self.answer("plot", "B-03", "engine-oil", "--today", "2026-06-04")[0]
        last = plot["readings"][-1]
        self.assertEqual((last["x"][:10], round(last["y"], 6)), ("2026-06-04", 15))  # 655 h read, done at 640 h
        self.assertEqual([r["x"][:10] for r in plot["resets"]], ["2026-05-24"])

    def test_letters(self):
        lines = self.call("plot", "B-03", "front-tyre-left", "--today", "2026-07-10").stdout.splitlines()
        body = "\n".join(lines[2:-1])
        field = "\n".join(line[9:] for line in lines[2:-3])
        self.assertEqual(field.count("o") + field.count("@"), 4, body)
        self.assertIn("=", body)
        self.assertTrue(all(len(line) <= 85 for line in lines[:-1]), lines)

    def test_every_checkpoint_is_drawn_or_says_why_not(self):
        names = self.answer("plot", "B-03")
        self.assertIn("front-tyre-left", names)
        for name in (d["key"] for d in self.answer("machine", "show", "B-03")["due"] if d["kind"] == "checkpoint" and d["key"] != "daily"):
            done = call("plot", "B-03", name, depot=self.depot, status=None)
            self.assertIn(done.returncode, (0, 5), done.stderr)
        for name in names:
            self.drawing("B-03", name)

    def test_wrong_words(self):
        self.refused("plot", "B-03", "front-tyre-lefd", status=4, says="front-tyre-left")
        self.refused("plot", "B-03", "rear-tyre-left", status=5, says="nothing was read yet")
        self.refused("plot", "B-03", "engine-oil", "--format", "gif", status=2, says="pdf, png or svg")

    def test_pages(self):
        out = self.folder / "plots.pdf"
        self.call("plot", "B-03", "front-tyre-left", "engine-oil", "-o", out)
        self.assertEqual(out.read_bytes()[:5], b"%PDF-")
        out = self.folder / "plot.svg"
        self.call("plot", "B-03", "front-tyre-left", "-o", out)
        tree.parse(out)


main()
