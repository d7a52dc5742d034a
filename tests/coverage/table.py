"""Reads line counts in the form of lcov and prints them by crate, then the files that are lowest.

Lines of test modules inside the sources are left out: they run by nature and would make every figure look better.
"""

import re
import sys
from collections import defaultdict
from pathlib import Path

LOWEST = 25  # files listed
TEST_FILES = {"crates/lees-format/src/journal/tests.rs", "crates/lees/src/rack/fixture.rs"}


def counts(path):
    """(file, line) -> times run; of a line that stands in several records the most."""
    found, file = defaultdict(int), None
    for record in Path(path).read_text().splitlines():
        kind, _, rest = record.partition(":")
        if kind == "SF":
            file = re.sub(r"^.*/(?=crates/)", "", rest)
        elif kind == "DA":
            line, times = rest.split(",")[:2]
            key = file, int(line)
            found[key] = max(found[key], int(times))
    return found


def first_test_line(file):
    """The line from which on a source file holds tests only."""
    lines = Path(file).read_text().splitlines()
    starts = [n for n, line in enumerate(lines, 1) if line == "#[cfg(test)]" and lines[n].startswith("mod tests {")]
    return starts[0] if starts else len(lines) + 1


def main():
    library = re.compile(r"crates/(lees(?:-(?!cli)\w+)?)/src/")
    ends, files = {}, defaultdict(lambda: ([], 0))
    for (file, line), times in sorted(counts(sys.argv[1]).items()):
        if not library.match(file) or file in TEST_FILES:
            continue
        end = ends.setdefault(file, first_test_line(file))
        if line < end:
            missed, all_ = files[file]
            files[file] = missed + [line] * (times == 0), all_ + 1
    crates = defaultdict(lambda: [0, 0])
    for file, (missed, all_) in files.items():
        crate = crates[library.match(file)[1]]
        crate[0] += all_ - len(missed)
        crate[1] += all_
    print("| crate | lines | run | % |\n|---|---|---|---|")
    for crate, (run, all_) in sorted(crates.items()):
        print(f"| `{crate}` | {all_} | {run} | {100 * run / all_:.1f} |")
    print("\nFiles with most lines not run:")
    for file, (missed, all_) in sorted(files.items(), key=lambda item: -len(item[1][0]))[:LOWEST]:
        if missed:
            print(f"{len(missed):5} of {all_:4}  {file}: {spans(missed)}")


def spans(lines):
    """[1, 2, 3, 7] as 1-3 7."""
    runs = []
    for line in lines:
        if runs and line == runs[-1][1] + 1:
            runs[-1][1] = line
        else:
            runs.append([line, line])
    return " ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


main()
