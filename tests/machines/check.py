"""The same bytes on unlike processors (see run.sh). One argument: an empty folder to work in."""

import os
import platform
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = os.environ["LEES_BIN"]
FOLDER = Path(sys.argv[1])
DEMO = ROOT / "demo-spectra"
PRODUCT = ["--product", str(DEMO / "thiazolyl-coumarin.toml")]
# The GNU C library chooses its exp, sin and the like by what the processor has; this hides it.
OLDER = {"GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX512F,-AVX512VL,-AVX2,-AVX2_Usable,-FMA,-FMA_Usable,-FMA4"}
# Without AVX and FMA: what chooses its own code at run time takes another here.
EMULATED = ["qemu-x86_64", "-cpu", "Nehalem"]


def jobs():
    """Name, arguments and the file written (none: standard output)."""
    for name in ("batch-2-h.jdx", "batch-before-drying-fid.jdx", "batch-impure.jdx"):
        yield f"check {name}", ["check", str(DEMO / name), *PRODUCT, "--format", "json", "--jobs", "1"], None
    drawn = ["draw", str(DEMO / "batch-2-h.jdx"), *PRODUCT]
    yield "draw SVG", [*drawn, "-o", "figure.svg"], "figure.svg"
    yield "draw PNG", [*drawn, "-o", "figure.png"], "figure.png"
    made = ["simulate", str(DEMO / "recipes" / "batch-6-h.toml"), "--seed", "20260401", "-o", "made.jdx"]
    yield "simulate", made, "made.jdx"


def run(arguments, written, before=(), settings=None):
    folder = FOLDER / "here"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    environment = {**os.environ, **(settings or {})}
    ran = subprocess.run([*before, PROGRAM, *arguments], cwd=folder, env=environment, capture_output=True, check=False)
    if ran.returncode != 0:
        sys.exit(f"{arguments}: exit code {ran.returncode}\n{ran.stderr.decode()}")
    return (folder / written).read_bytes() if written else ran.stdout


def main():
    # Elsewhere than on x86-64 the results are held to those frozen on it by the frozen tests.
    if platform.machine() != "x86_64":
        sys.exit("these checks are for x86-64")
    ways = {"older C library code": ((), OLDER)}
    if shutil.which(EMULATED[0]):
        ways["emulated processor without AVX"] = (EMULATED, {})
    else:
        print("NOT run on an emulated processor: qemu-x86_64 is not installed")
    failed = False
    for name, arguments, written in jobs():
        here = run(arguments, written)
        for way, (before, settings) in ways.items():
            there = run(arguments, written, before, settings)
            is_same = here == there
            failed |= not is_same
            print(f"{name}, {way}: {len(here)} bytes, {'the same' if is_same else 'DIFFERENT'}")
    if failed:
        sys.exit(1)


main()
