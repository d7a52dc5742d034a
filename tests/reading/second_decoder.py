"""A second decoder of JCAMP-DX, written from the published protocols and independent of the Rust one.

Standard library only. Sources: McDonald and Wilks, Appl. Spectrosc. 1988, 42, 151 (ASDF forms);
Lampen et al., Appl. Spectrosc. 1994, 48, 1545 (NTUPLES).

    python3 second_decoder.py FOLDER

compares every FOLDER/NAME.ENCODING.jdx with FOLDER/NAME.truth point for point.
"""

import re
import sys
from pathlib import Path

SQZ = {c: str(i) for i, c in enumerate("@ABCDEFGHI")} | {c: f"-{i}" for i, c in enumerate("abcdefghi", 1)}
DIF = {c: str(i) for i, c in enumerate("%JKLMNOPQR")} | {c: f"-{i}" for i, c in enumerate("jklmnopqr", 1)}
DUP = {c: str(i) for i, c in enumerate("STUVWXYZs", 1)}

# An exponent needs a plain start and a sign; everything else that begins with a letter is a token of its own.
TOKEN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[Ee][+-]\d+)?|[@A-Ia-i%J-Rj-rS-Zs]\d*\.?\d*")


def records(text):
    """Label and value of each record, labels normalised, comments gone."""
    found = []
    for line in re.split(r"\r\n|\r|\n", text):
        line = line.split("$$")[0]
        start = re.match(r"\s*##([^=]*)=?(.*)", line)
        if start:
            label = re.sub(r"[\s/_-]", "", start.group(1)).upper()
            found.append([label, start.group(2).strip(), []])
        elif found:
            found[-1][2].append(line)
    return found


def ordinates(lines):
    """Ordinates of an (X++(Y..Y)) table; raises ValueError at a failed check."""
    values = []
    ended_in_difference = False
    for line in lines:
        tokens = TOKEN.findall(line)
        if not tokens:
            continue
        step = None
        first = True
        for token in tokens[1:]:
            head, tail = token[0], token[1:]
            if head in DUP:
                for _ in range(int(DUP[head] + tail) - 1):
                    values.append(values[-1] + (step if step is not None else 0))
            elif head in DIF:
                step = number(DIF[head] + tail)
                values.append(values[-1] + step)
            else:
                value = number(SQZ[head] + tail if head in SQZ else token)
                step = None
                if first and ended_in_difference:
                    if value != values[-1]:
                        raise ValueError(f"check {value} after {values[-1]}")
                else:
                    values.append(value)
            first = False
        ended_in_difference = step is not None
    return values


def number(text):
    return int(text) if re.fullmatch(r"[+-]?\d+", text) else float(text)


def decode(text):
    """Tables of a file: (first x, last x, [ordinates]) for each."""
    found = records(text)
    values = {label: value for label, value, _ in found}
    if "NTUPLES" not in values:
        factor = float(values.get("YFACTOR", 1))
        body = next(lines for label, _, lines in found if label == "XYDATA")
        y = [v * factor for v in ordinates(body)]
        if len(y) != int(values["NPOINTS"]):
            raise ValueError(f"{len(y)} points, NPOINTS {values['NPOINTS']}")
        return [(float(values["FIRSTX"]), float(values["LASTX"]), y)]
    cells = {label: [c.strip() for c in values[label].split(",")] for label in ("SYMBOL", "FIRST", "LAST", "FACTOR", "VARDIM")}
    tables = []
    for label, value, lines in found:
        if label != "DATATABLE":
            continue
        symbol = re.match(r"\(X\+\+\((\w)\.\.", value).group(1)
        column = cells["SYMBOL"].index(symbol)
        y = [v * float(cells["FACTOR"][column]) for v in ordinates(lines)]
        if len(y) != int(cells["VARDIM"][column]):
            raise ValueError(f"{len(y)} points, VAR_DIM {cells['VARDIM'][column]}")
        tables.append((float(cells["FIRST"][0]), float(cells["LAST"][0]), y))
    return tables


def read_truth(path):
    """Columns of a file of true values: abscissae, real parts, perhaps imaginary parts."""
    return [list(column) for column in zip(*([float(w) for w in line.split()] for line in path.read_text().splitlines()))]


def compare(path):
    """Number of points compared; raises ValueError at the first difference."""
    x, *parts = read_truth(path.parent / (path.name.split(".")[0] + ".truth"))
    tables = decode(path.read_text(encoding="latin-1"))
    if len(tables) != len(parts):
        raise ValueError(f"{len(tables)} tables, expected {len(parts)}")
    for (first, last, y), true in zip(tables, parts):
        if len(y) != len(true):
            raise ValueError(f"{len(y)} points, expected {len(true)}")
        if abs(first - x[0]) > 1e-12 or abs(last - x[-1]) > 1e-12:
            raise ValueError(f"axis {first} to {last}, expected {x[0]} to {x[-1]}")
        for index, (a, b) in enumerate(zip(y, true)):
            if a != b:
                raise ValueError(f"point {index + 1} is {a}, expected {b}")
    return sum(len(part) for part in parts)


def self_check():
    """The worked example of the standard's forms, so that the judge itself is judged."""
    forms = ["16383 -10247 1201 -5196", "16383-10247+1201-5196", "16383a0247A201e196", "16383a0247J1448o397"]
    assert all(ordinates([form]) == [-10247, 1201, -5196] for form in forms)
    assert ordinates(["0A0JT", "3A2J"]) == [10, 11, 12, 13]
    try:
        ordinates(["0A0J", "1A5J"])
    except ValueError:
        return
    raise AssertionError("a wrong check ordinate was not seen")


def main(folder):
    self_check()
    files = sorted(Path(folder).glob("*.*.jdx"))
    if not files:
        sys.exit(f"no files in {folder}")
    points = 0
    for path in files:
        try:
            points += compare(path)
        except (ValueError, IndexError, KeyError, StopIteration) as error:
            sys.exit(f"{path.name}: {error}")
    print(f"second decoder: {len(files)} files, {points} points equal")


if __name__ == "__main__":
    main(sys.argv[1])
