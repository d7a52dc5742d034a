"""Counts public functions, and those whose own documentation has an example that the tests run.

usage: count.py [--list]   (--list names the functions without one)

`pub` means public here: the lint `unreachable_pub` forbids it elsewhere. Getters of a line or two and functions whose type
shows them in its own example are counted as without; the floor in LEAST only keeps the share from falling.
"""

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FUNCTION = re.compile(r"^\s*pub (?:const )?(?:async )?fn (\w+)")


def functions(path):
    """Name, line, and whether there is an example, of each public function of a file."""
    lines = path.read_text().split("#[cfg(test)]\nmod ")[0].splitlines()
    for number, line in enumerate(lines):
        found = FUNCTION.match(line)
        if not found:
            continue
        above, at = [], number - 1
        while at >= 0 and lines[at].strip().startswith(("///", "#[", "#![")):
            above.append(lines[at].strip())
            at -= 1
        fences = [text for text in above if text.startswith("/// ```")]
        runs = any(text in ("/// ```", "/// ```rust", "/// ```no_run") for text in fences)
        yield found.group(1), number + 1, runs


def main():
    for crate in sorted((ROOT / "crates").iterdir()):
        found = [(path, *one) for path in sorted((crate / "src").rglob("*.rs")) for one in functions(path)]
        without = [one for one in found if not one[3]]
        if not found:
            continue
        print(f"{crate.name}: {len(found) - len(without)} of {len(found)} public functions have an example")
        if "--list" in sys.argv[1:]:
            for path, name, line, _ in without:
                print(f"  {path.relative_to(ROOT)}:{line} {name}")


main()
