"""Every public function has an example of its own that the tests run; exit code 1 when one has not.

usage: count.py [--list]   (--list names the functions without one)

`pub` means public here: the lint `unreachable_pub` forbids it elsewhere. An example in the documentation of the type or the
module does not count, nor one that is only compiled (`no_run`) or only shown (`text`, `ignore`). What nobody outside its crate
needs is better made `pub(crate)` than given an example.
"""

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FUNCTION = re.compile(r"^\s*pub (?:const )?(?:async )?(?:unsafe )?fn (\w+)")
# Fewer functions than this, and the pattern above no longer finds what it should.
FEWEST = 250


def runs(above):
    """Whether a documentation comment, line by line, has a block that is run."""
    inside = False
    for text in above:
        if not text.startswith("/// ```"):
            continue
        inside = not inside
        if inside and text in ("/// ```", "/// ```rust"):
            return True
    return False


def functions(path):
    """Name, line, and whether there is an example, of each public function of a file."""
    lines = path.read_text(encoding="utf-8").split("#[cfg(test)]\nmod ")[0].splitlines()
    for number, line in enumerate(lines):
        found = FUNCTION.match(line)
        if not found:
            continue
        above, at = [], number - 1
        while at >= 0 and lines[at].strip().startswith(("///", "#[", "#![")):
            above.insert(0, lines[at].strip())
            at -= 1
        yield found.group(1), number + 1, runs(above)


def main():
    total, missing = 0, 0
    for crate in sorted((ROOT / "crates").iterdir()):
        found = [(path, *one) for path in sorted((crate / "src").rglob("*.rs")) for one in functions(path)]
        without = [one for one in found if not one[3]]
        total, missing = total + len(found), missing + len(without)
        if not found:
            continue
        print(f"{crate.name}: {len(found) - len(without)} of {len(found)} public functions have an example")
        if without and "--list" in sys.argv[1:]:
            for path, name, line, _ in without:
                print(f"  {path.relative_to(ROOT)}:{line} {name}")
    if total < FEWEST:
        sys.exit(f"only {total} public functions were found; is the pattern still right?")
    if missing:
        sys.exit(f"{missing} public functions have no example that the tests run; --list names them")


main()
