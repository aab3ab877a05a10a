"""Text of any language prints with the fonts that script/serve installs: no letter is missing.

usage: scripts_test.py WITMARK_SHEET     (TAP on standard output)
"""
import json
import os
import subprocess
import sys

# A word or two of each script, "hydraulic oil" or "filter" where we know it; what counts is the letters.
SCRIPTS = {
    "Latin": "½ ° ≥ µ Şanzıman yağı, Dầu thủy lực, ulei hidraulic ăîșț, olej hydrauliczny łąę",
    "Greek": "Υδραυλικό λάδι", "Cyrillic": "Гидравлическое масло ґєї", "Arabic": "زيت هيدروليكي", "Hebrew": "מסנן שמן",
    "Devanagari": "हाइड्रोलिक तेल", "Bengali": "হাইড্রোলিক", "Tamil": "எண்ணெய்", "Thai": "น้ำมันไฮดรอลิก", "Georgian": "ფილტრი",
    "Armenian": "զտիչ", "Chinese": "液压油滤芯", "Japanese": "フィルター 燃料 あぶら", "Korean": "유압유",
}


def printed(text):
    document = {"type": "labels", "labels": [{"label": text, "title": text, "serial": text, "qr": "x"}]}
    env = {k: v for k, v in os.environ.items() if not k.startswith("FONTCONFIG")}
    return subprocess.run([sys.argv[1], "--format", "pdf"], input=json.dumps(document).encode(), capture_output=True, env=env, check=False)


def main():
    print(f"1..{len(SCRIPTS)}")
    here = all(os.path.isdir(f"/usr/share/fonts/truetype/{name}") for name in ("wqy", "freefont"))
    for i, (script, text) in enumerate(SCRIPTS.items(), 1):
        done = printed(text)
        good = done.returncode == 0 and done.stdout.startswith(b"%PDF") and not done.stderr
        skip = "" if good or here else " # SKIP fonts-wqy-microhei and fonts-freefont-ttf are not here"
        print(f"{'ok' if good else 'not ok'} {i} - {script}{skip}")
        if not good:
            print("# " + done.stderr.decode(errors="replace").strip())
    # The test must be able to fail: a letter of no script at all.
    if b"no font here has" not in printed("\U0010fffd").stderr:
        print("not ok - a letter that no font has was not noticed")


main()
