"""Inputs."""

import json
import os
import shutil
import threading
import time
import zipfile

from bench import DEMO

PRODUCT = ("--product", "dye.toml")
# Copies of the demo's spectrum that differ from the other in every line.
ROUNDS = 12


def unreadable_folder(bench):
    """a folder that may not be read | mode 000, not run as root"""
    bench.path("shut").mkdir()
    bench.path("shut").chmod(0o000)
    ran = bench.fails(1, "check", ".", *PRODUCT, powerless=True, says=["shut: cannot list"], left=["shut"])
    assert ran.out.count("fraction-") >= 4
    return "one message, exit code 1; all other files are checked"


def unreadable_file(bench):
    """a file that may not be read | mode 000, not run as root"""
    bench.path("fraction-2.jdx").chmod(0o000)
    ran = bench.fails(1, "check", ".", *PRODUCT, "--format", "json", powerless=True, says=["fraction-2.jdx: cannot read"])
    assert ran.out.count("\n") == 3
    return "one message, exit code 1; all other files are checked"


def loops(bench):
    """links that go round in circles | a folder linked into itself, a file linked to itself"""
    bench.path("again").symlink_to(".")
    bench.path("round.jdx").symlink_to("round.jdx")
    ran = bench.fails(
        1, "check", ".", *PRODUCT, "--format", "json", says=["round.jdx: cannot read"], left=["again", "round.jdx"]
    )
    assert ran.out.count("\n") == 4
    return "each file is checked once; the file that is none costs one message, exit code 1"


def missing(bench):
    """a file that is not there, between others | `check a.jdx none.jdx b.jdx`"""
    command = ("check", "fraction-1.jdx", "none.jdx", "fraction-2.jdx", *PRODUCT, "--format", "json")
    ran = bench.fails(1, *command, says=["none.jdx: cannot read"])
    assert [json.loads(line)["input"]["path"] for line in ran.out.splitlines()] == ["fraction-1.jdx", "fraction-2.jdx"]
    return "one message, exit code 1; the others in their order"


def no_spectrum(bench):
    """no spectrum in it | an empty file, an image, a text, random bytes, an empty folder"""
    bench.path("empty-folder").mkdir()
    bench.path("image.jdx").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01")
    bench.path("text.jdx").write_text("Dear diary,\n")
    bench.path("noise.jdx").write_bytes(bytes(7 * n * n % 251 for n in range(5000)))
    bench.path("empty.jdx").write_bytes(b"")
    extra = ["empty-folder", "image.jdx", "text.jdx", "noise.jdx", "empty.jdx"]
    for name in extra:
        ran = bench.fails(1, "check", name, *PRODUCT, says=[name], left=extra)
        assert ran.out == ""
    return "one message that names it, exit code 1"


def folder_for_a_file(bench):
    """a folder where a file is wanted | `--product`, `--sheet`, `--settings`, a recipe"""
    bench.path("folder").mkdir()
    for command in (
        ("check", "fraction-1.jdx", "--product", "folder"), ("check", "--sheet", "folder"),
        ("check", "fraction-1.jdx", "--settings", "folder"), ("simulate", "folder", "-o", "x.jdx"),
    ):
        bench.fails(2, *command, says=["folder: cannot read: Is a directory"], left=["folder"])
    return "one message, exit code 2"


def no_end(bench):
    """an input without end, or of nothing | `check /dev/zero`, `check -` with standard input closed"""
    bench.fails(1, "check", "/dev/zero", says=["more than 268435456 bytes"])
    bench.fails(1, "check", "-", says=["-: "])
    return "refused after 256 MiB; refused as empty; exit code 1"


def huge_claims(bench):
    """a file that claims four thousand million points, or unpacks to a gigabyte | `##NPOINTS=`, a zip of zeros; 2 GiB of memory allowed"""
    text = bench.path("fraction-1.jdx").read_text()
    line = next(line for line in text.splitlines() if line.startswith("##NPOINTS"))
    bench.path("claim.jdx").write_text(text.replace(line, "##NPOINTS= 4000000000"))
    with zipfile.ZipFile(bench.path("bomb.zip"), "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        with archive.open("bomb.jdx", "w", force_zip64=True) as member:
            for _ in range(1024):
                member.write(bytes(1 << 20))
    begun = time.monotonic()
    ran = bench.fails(0, "check", "claim.jdx", *PRODUCT, "--format", "json", left=["bomb.zip", "claim.jdx"])
    assert any("4000000000" in warning for warning in json.loads(ran.out)["warnings"]), ran.out
    bench.fails(1, "check", "bomb.zip", *PRODUCT, says=["unpacks to more than"], left=["bomb.zip", "claim.jdx"])
    shutil.copyfile(bench.path("bomb.zip"), bench.path("bomb.dat"))
    left = ["bomb.dat", "bomb.zip", "claim.jdx"]
    bench.fails(1, "check", "bomb.dat", *PRODUCT, says=["unpack to more than"], left=left)
    assert time.monotonic() - begun < 60
    return "the points that are there are checked, with a warning; what unpacks so far is refused, exit code 1"


def cut_short(bench):
    """a file cut off in the middle | half of a spectrum, and of a zip"""
    text = bench.path("fraction-1.jdx").read_bytes()
    bench.path("half.jdx").write_bytes(text[: len(text) // 2])
    with zipfile.ZipFile(bench.path("whole.zip"), "w") as archive:
        archive.write(bench.path("fraction-1.jdx"), "a.jdx")
    data = bench.path("whole.zip").read_bytes()
    bench.path("half.zip").write_bytes(data[: len(data) // 2])
    for name in ("half.jdx", "half.zip"):
        bench.fails(1, "check", name, *PRODUCT, says=[name], left=["half.jdx", "half.zip", "whole.zip"])
    return "refused, exit code 1: half a spectrum is not checked"


def changed_while_read(bench):
    """a file changed while it is read | another program writes two spectra in turn over the same file, in pieces"""
    contents = [(DEMO / f"batch-{hours}-h.jdx").read_bytes() for hours in (2, 16)]
    target, stop = bench.path("turn.jdx"), threading.Event()
    wanted = []
    for content in contents:
        target.write_bytes(content)
        wanted.append(bench.run("check", "turn.jdx", *PRODUCT, "--format", "json").out)

    def write():
        turn = 0
        while not stop.is_set():
            with open(target, "wb", buffering=0) as file:
                for start in range(0, len(contents[turn]), 8192):
                    file.write(contents[turn][start : start + 8192])
                    time.sleep(0.001)
            turn = 1 - turn
            time.sleep(0.01)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for _ in range(ROUNDS):
            ran = bench.run("check", "turn.jdx", *PRODUCT, "--format", "json")
            assert (ran.code == 0 and ran.out in wanted) or (ran.code == 1 and ran.out == ""), (ran.code, ran.err)
    finally:
        stop.set()
        writer.join()
    return "either spectrum as it is when at rest, or a message and exit code 1; never a mixture"


def bad_sheet(bench):
    """a sheet that names a missing file, or has a letter for a number | `--sheet`"""
    bench.path("sheet.csv").write_text("file,mass\nfraction-1.jdx,1\nnone.jdx,2\n")
    bench.fails(1, "check", "--sheet", "sheet.csv", *PRODUCT, says=["none.jdx: cannot read"], left=["sheet.csv"])
    bench.path("sheet.csv").write_text("file,mass\nfraction-1.jdx,one\n")
    bench.fails(2, "check", "--sheet", "sheet.csv", *PRODUCT, says=["line 2: column `mass`: read `one`"], left=["sheet.csv"])
    return "one message, exit code 1; one message with line and column, exit code 2"


FAULTS = (
    unreadable_folder, unreadable_file, loops, missing, no_spectrum, folder_for_a_file, no_end, huge_claims, cut_short,
    changed_while_read, bad_sheet,
)
