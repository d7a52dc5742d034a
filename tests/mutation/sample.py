"""Mutates the matcher in many places and sees which changes no test notices.

usage: sample.py [COUNT] [--seed N] [--only NUMBER...]

The changes are those of cargo-mutants (`cargo mutants --list`), drawn at random. To build once and not once a change, all
of them are put into a copy of the sources, each behind a switch: the body of a function becomes
`{ if crate::mutant(7) { changed } else { as it was } }`, and a test is run with LEES_MUTANT=7. A change that does not
compile is dropped, like cargo-mutants does. Constant functions cannot have a switch and are not drawn from.

Each change is judged by the tests of lees-match (without the slow ones, below), then by the library's lees; only what they
all let pass is judged by the documentation's examples, which must be compiled anew. Prints a table; exit code 1 when the
tests fail without any change.
"""

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CRATE = "crates/lees-match"
# Tests that take longer than all others together.
SLOW = ["an_axis_that_is_off_is_mended_by_the_product", "coverage_factor_agrees_with_simulation"]
# Test programs in the order they are asked: the fast ones first.
JUDGES = ["tables", "verdict", "own_tables", "lees_match", "identify", "drying", "purity", "lees"]
SECONDS = 120  # of processor time for one test program; unchanged, the slowest takes some 20
SWITCH = """
/// Whether the change with this number is wanted.
pub(crate) fn mutant(number: u32) -> bool {
    static WANTED: std::sync::LazyLock<u32> =
        std::sync::LazyLock::new(|| std::env::var("LEES_MUTANT").ok().and_then(|n| n.parse().ok()).unwrap_or(0));
    *WANTED == number
}
"""


def offset(lines, place):
    """Place in the text of a line and column, both from 1."""
    return sum(len(line) for line in lines[: place["line"] - 1]) + place["column"] - 1


class Source:
    """A source file and the changes in it."""

    def __init__(self, path):
        self.path, self.text = path, path.read_text()
        self.lines = self.text.splitlines(keepends=True)

    def body(self, mutant):
        """(start, end) of the braces of the function's body; None when the function is constant or has none."""
        span = mutant["function"]["span"]
        start, end = offset(self.lines, span["start"]), offset(self.lines, span["end"])
        text, depth = self.text, 0
        head = re.sub(r"(?m)^\s*(//|#\[).*$", "", text[start:end])
        if re.match(r"\s*(pub(\([^)]*\))?\s+)?const\s+fn", head) or "-> impl " in head.split("{")[0]:
            return None
        for at in range(end - 1, start, -1):
            depth += (text[at] == "}") - (text[at] == "{")
            if depth == 0:
                return at, end
        return None

    def changed(self, mutant, body):
        """The function's body with the change."""
        start, end = (offset(self.lines, mutant["span"][which]) for which in ("start", "end"))
        if not (body[0] <= start <= end <= body[1]):
            return None
        inner = self.text[body[0] : start] + " " + mutant["replacement"] + " " + self.text[end : body[1]]
        return inner if inner.lstrip().startswith("{") else "{" + inner + "}"


def listed():
    said = subprocess.run(["cargo", "mutants", "--list", "--json", "-p", "lees-match"], cwd=ROOT, capture_output=True, text=True, check=True)
    return [mutant for mutant in json.loads(said.stdout) if mutant.get("function")]


def draw(count, seed):
    """Numbered changes, at most `count`, of functions that can have a switch."""
    found, sources = [], {}
    mutants = listed()
    random.Random(seed).shuffle(mutants)
    for mutant in mutants:
        if len(found) == count:
            break
        source = sources.setdefault(mutant["file"], Source(ROOT / mutant["file"]))
        body = source.body(mutant)
        changed = body and source.changed(mutant, body)
        nested = any(other["file"] == mutant["file"] and crossing(other["body"], body) for other in found) if changed else False
        if changed and not nested:
            found.append({"number": len(found) + 1, "file": mutant["file"], "name": mutant["name"], "body": body, "changed": changed})
    return found, sources, len(mutants)


def crossing(one, other):
    """Whether one function stands inside another: there a switch in both would be one too many."""
    return one != other and one[0] < other[1] and other[0] < one[1]


def write(copy, mutants, sources):
    """Writes the changed sources; gives the lines at which each change stands."""
    places = {}
    for file, source in sources.items():
        bodies = {}
        for mutant in mutants:
            if mutant["file"] == file:
                bodies.setdefault(mutant["body"], []).append(mutant)
        text, done, marks = "", 0, []
        for (start, end), here in sorted(bodies.items()):
            text += source.text[done:start] + "{\n"
            for mutant in here:
                first = text.count("\n") + 1
                text += f"if crate::mutant({mutant['number']}) {mutant['changed']} else "
                marks.append((first, text.count("\n") + 1, mutant["number"]))
            text += source.text[start:end] + "\n}"
            done = end
        text += source.text[done:]
        if file.endswith("src/lib.rs"):
            text += SWITCH
        (copy / file).write_text(text)
        places[file] = marks
    library = copy / CRATE / "src/lib.rs"
    if "fn mutant(" not in library.read_text():
        library.write_text(library.read_text() + SWITCH)
    return places


def build(copy, places):
    """(test programs, numbers of changes that do not compile)."""
    command = ["cargo", "test", "--jobs", "2", "--locked", "--no-run", "-p", "lees-match", "-p", "lees", "--lib", "--tests", "--message-format", "json"]
    done = subprocess.run(command, cwd=copy, capture_output=True, text=True)
    programs, bad, other = {}, set(), []
    for line in done.stdout.splitlines():
        message = json.loads(line)
        if message.get("executable") and message["profile"]["test"]:
            programs[message["target"]["name"]] = message["executable"]
        if message.get("reason") == "compiler-message" and message["message"]["level"] == "error":
            spans = message["message"]["spans"]
            marks = {n for span in spans for first, last, n in places.get(span["file_name"], []) if first <= span["line_start"] <= last}
            bad |= marks
            if spans and not marks:
                other.append(message["message"]["rendered"])
    if done.returncode and not bad:
        sys.exit("".join(other[:3]) or done.stderr[-3000:])
    return programs, bad


def built(copy, mutants, sources):
    dropped = []
    while True:
        programs, bad = build(copy, write(copy, mutants, sources))
        if not bad:
            return programs, mutants, dropped
        dropped += [mutant for mutant in mutants if mutant["number"] in bad]
        mutants = [mutant for mutant in mutants if mutant["number"] not in bad]


def judge(copy, programs, number):
    """What noticed the change; None when nothing did."""
    environment = {**os.environ, "LEES_MUTANT": str(number), "RUST_BACKTRACE": "0"}
    for name in JUDGES:
        skip = [word for slow in SLOW for word in ("--skip", slow)]
        limited = ["bash", "-c", f'ulimit -t {SECONDS}; exec "$@"', "-", programs[name], "-q", *skip]
        folder = copy / ("crates/lees" if name in ("purity", "lees") else CRATE)
        done = subprocess.run(limited, cwd=folder, env=environment, capture_output=True, text=True)
        if done.returncode != 0:
            test = re.search(r"^    (\S+)$", done.stdout, re.M)
            return f"{name}: {test.group(1) if test else 'time' if done.returncode < 0 else 'ended'}"
    return None


def examples(copy, number):
    command = ["cargo", "test", "--jobs", "2", "--locked", "-q", "--doc", "-p", "lees-match"]
    environment = {**os.environ, "LEES_MUTANT": str(number)}
    done = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True)
    return "an example" if done.returncode else None


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("count", type=int, nargs="?", default=100)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--only", type=int, nargs="*")
    asked = arguments.parse_args()
    mutants, sources, population = draw(asked.count, asked.seed)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "lees"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", "target", "artifacts", "corpus"))
        programs, kept, dropped = built(copy, mutants, sources)
        print(f"{population} changes listed, {len(mutants)} drawn, {len(dropped)} do not compile", flush=True)
        if unchanged := judge(copy, programs, 0):
            sys.exit(f"the tests fail without a change: {unchanged}")
        tally = Counter()
        for mutant in kept:
            if asked.only and mutant["number"] not in asked.only:
                continue
            noticed = judge(copy, programs, mutant["number"]) or examples(copy, mutant["number"])
            tally["survived" if noticed is None else "caught"] += 1
            print(f"{mutant['number']:4}  {'SURVIVED' if noticed is None else 'caught  '}  {mutant['name']}  {noticed or ''}", flush=True)
        print(dict(tally))


main()
