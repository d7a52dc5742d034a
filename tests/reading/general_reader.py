"""The files of write_every_encoding against the PyPI package `jcamp`, where it can judge.

It reads no NTUPLES, so the complex spectrum and the FID are left out. It judges AFFN, FIX, PAC, SQZ and DIF. In DIFDUP it
loses points (its own Y-checks complain), although the table has all its points and passes all its Y-checks in the
second decoder; that form is reported, not required.

    python3 general_reader.py FOLDER
"""

import sys
from pathlib import Path

import jcamp

from second_decoder import read_truth

# Forms the package reads as the standard has them; the others are reported, not required.
MUST_AGREE = {"affn", "fix", "pac", "sqz", "dif"}


def main(folder):
    judged, disagreements = [], []
    for path in sorted(Path(folder).glob("*.*.jdx")):
        name, encoding, _ = path.name.split(".")
        if name not in ("spectrum", "scaled"):
            continue
        true = read_truth(path.parent / f"{name}.truth")[1]
        found = [float(v) for v in jcamp.readfile(str(path))["y"]]
        scale = max(abs(v) for v in true)
        equal = len(found) == len(true) and all(abs(a - b) <= 1e-9 * scale for a, b in zip(found, true))
        (judged if equal else disagreements).append(f"{path.name} ({len(found)} of {len(true)} points)")
        if not equal and encoding in MUST_AGREE:
            sys.exit(f"{path.name}: {len(found)} points, expected {len(true)}, or values differ")
    if not judged:
        sys.exit("the general reader judged nothing")
    print("general reader agrees:", ", ".join(judged))
    print("general reader differs (points it found):", ", ".join(disagreements) or "nowhere")


if __name__ == "__main__":
    main(sys.argv[1])
