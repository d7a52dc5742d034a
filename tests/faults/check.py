"""Brings faults about and holds the program to the table in docs/faults.md.

usage: check.py FOLDER [--write]
"""

import importlib
import sys
from pathlib import Path

from bench import ROOT, Bench

PAGE = ROOT / "docs" / "faults.md"
PARTS = ("disk", "inputs", "ends")
HEAD = """# When things go wrong

What is promised: no panic; a file under its final name is whole, or is the one that was there before; one bad input costs one message and
one row, never the others; the exit code is 0 when everything was read and checked, 1 when an input or an output failed, 2 when the
request itself was wrong, 10 and 11 by `--gate`, 130 when the run was stopped. `tests/faults/run.sh` brings each of these faults about and fails
when something else happens; `tests/faults/run.sh --write` writes this page.
"""
FOOT = """
Damaged spectra are made by the thousand: `LEES_MUTANTS=5000 cargo test -p lees --test mutants -- --nocapture` damages the demo's files (and
measured ones, when there are any) in up to six places each and puts every copy through the whole check. `fuzz/` does the same, led by
coverage: to the readers alone, and to the whole check of small spectra. On 26 November 2026, with debug assertions on, on a busy machine:

| target | inputs tried | seconds | most memory | found |
|---|---|---|---|---|
| `jcamp` | 2 322 373 | 302 | 198 MiB | nothing |
| `text` | 5 182 979 | 301 | 34 MiB | nothing |
| `archive` | 3 051 810 | 301 | 249 MiB | nothing |
| `journal` | 5 086 380 | 301 | 31 MiB | nothing |
| `product` | 876 297 | 354 | 33 MiB | nothing |
| `check`, each twice | 102 537 | 1004 | 65 MiB | nothing |

Found means a panic, a result that does not hold together, or an alarm that stands when the input is tried alone. Two alarms did not: one of 1 s
(`product`) and one of 10 s (`check`) rang while other programs had the machine; alone the inputs take under 0.01 s and 0.12 s of processor
time, and the 2790 inputs that the target `check` had gathered 26 s together.

Not brought about: a disk that fails while it is read, a power cut (files are synchronised before they get their names, the resume file is
not: its last lines may be lost and are then worked out again), a network folder that goes away.
"""


def table(folder):
    lines = []
    for part in PARTS:
        module = importlib.import_module(part)
        lines += [f"\n## {module.__doc__.splitlines()[0].rstrip('.')}\n", "| fault | made by | what happens |", "|---|---|---|"]
        for number, fault in enumerate(module.FAULTS):
            happened = fault(Bench(folder, f"{part}-{number}"))
            what, how = fault.__doc__.split(" | ")
            lines.append(f"| {what} | {how} | {happened} |")
        print(f"faults: {len(module.FAULTS)} of {part}")
    return "\n".join(lines) + "\n"


def main():
    text = HEAD + table(Path(sys.argv[1])) + FOOT
    if "--write" in sys.argv[2:]:
        PAGE.write_text(text)
    assert PAGE.read_text() == text, "docs/faults.md does not say what happened; run tests/faults/run.sh --write"
    print("faults: docs/faults.md says what happened")


main()
