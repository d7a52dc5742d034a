"""Runs the README's three commands for a rack of fractions and holds the README to what they print.

usage: readme.py [--write]   (LEES_BIN names the program; --write puts what is printed now into the README)
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"


def block(text, marker):
    """Where the fenced block after a marker begins and ends."""
    begin = text.index("\n", text.index("```", text.index(f"<!-- {marker} -->"))) + 1
    return begin, text.index("```", begin)


def printed(command):
    """What a command line of the README prints."""
    program = f'lees() {{ "{os.environ["LEES_BIN"]}" "$@"; }}'
    done = subprocess.run(["bash", "-c", f"{program}\n{command}"], cwd=ROOT, check=True, capture_output=True, text=True)
    return done.stdout


def commands(text):
    begin, end = block(text, "fractions")
    lines = text[begin:end].splitlines()
    assert len(lines) == 3 and all(line.startswith("lees ") for line in lines), lines
    return lines


def main():
    text = README.read_text()
    inspect, check, report = commands(text)
    listed, summed = printed(inspect), printed(check)
    assert sum("LD-7 column 2, fraction" in line for line in listed.splitlines()) == 8, listed
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        printed(report.replace("-o fractions.html", f"-o {page}"))
        assert page.read_text().count("<article") == 8
    shown = summed[summed.index("Cleanest first") :].rstrip() + "\n"
    begin, end = block(text, "fractions-output")
    if "--write" in sys.argv[1:]:
        README.write_text(text[:begin] + shown + text[end:])
    else:
        assert text[begin:end] == shown, f"the README says\n{text[begin:end]}\nbut printed is\n{shown}"
    print("batch: the README's rack of fractions is what the commands print")


main()
