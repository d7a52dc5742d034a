"""Disk and output."""

import os
from pathlib import Path

CHECK = ("check", ".", "--product", "dye.toml")
FULL = "No space left on device"


def full_standard_output(bench):
    """standard output on a full disk | `> /dev/full`"""
    for form in ("text", "json", "csv"):
        with open("/dev/full", "w") as full:
            bench.fails(1, *CHECK, "--format", form, stdout=full, says=[FULL])
    return "one message, exit code 1"


def full_table(bench):
    """disk full while `-o` writes a table | the part's name leads to `/dev/full`"""
    whole = bench.table()
    bench.path("rows.csv").write_text("an older table\n")
    bench.path("rows.csv.part").symlink_to("/dev/full")
    bench.fails(1, *CHECK, "-o", "rows.csv", says=[FULL], left=["rows.csv", "rows.csv.resume"])
    assert bench.path("rows.csv").read_text() == "an older table\n"
    ran = bench.run(*CHECK, "-o", "rows.csv", "--resume")
    assert ran.code == 0 and "4 results taken over" in ran.err, ran.err
    assert bench.path("rows.csv").read_bytes() == whole and bench.names() == sorted([*bench.good, "rows.csv"])
    return "exit code 1, the older table stays; with room again `--resume` writes the same bytes without checking anew"


def full_resume_file(bench):
    """disk full while the resume file grows | files may grow to 2000 bytes only"""
    bench.path("rows.csv").write_text("an older table\n")
    bench.fails(1, *CHECK, "-o", "rows.csv", file_size=2000, says=["rows.csv.resume"], left=["rows.csv", "rows.csv.resume"])
    assert bench.path("rows.csv").read_text() == "an older table\n"
    whole = bench.table("other.csv")
    assert bench.run(*CHECK, "-o", "rows.csv", "--resume").code == 0
    assert bench.path("rows.csv").read_bytes() == whole
    return "exit code 1, the older table stays; what was cut off in the resume file is worked out again"


def full_file(bench):
    """disk full while a picture, a page or a spectrum is written | files may grow to 2000 bytes only"""
    for command in (
        ("draw", "fraction-1.jdx", "-o", "out.svg"),
        ("report", "fraction-1.jdx", "-o", "out.html"),
        ("convert", "fraction-1.jdx", "-o", "out.txt"),
    ):
        bench.fails(1, *command, file_size=2000, says=["cannot write"])
        older = bench.path(command[-1])
        older.write_text("older\n")
        bench.fails(1, *command, file_size=2000, says=["cannot write"], left=[older.name])
        assert older.read_text() == "older\n"
        older.unlink()
    return "one message, exit code 1, no file; an older one stays as it was"


def output_exists(bench):
    """the output is there already | a table and a link to a picture"""
    whole = bench.table()
    bench.path("rows.csv").write_text("an older table\n")
    assert bench.run(*CHECK, "-o", "rows.csv").code == 0 and bench.path("rows.csv").read_bytes() == whole
    bench.path("real.svg").write_text("older\n")
    bench.path("link.svg").symlink_to("real.svg")
    assert bench.run("draw", "fraction-1.jdx", "-o", "link.svg").code == 0
    assert bench.path("link.svg").is_symlink() and "</svg>" in bench.path("real.svg").read_text()
    return "it is replaced at once when the new one is whole; a link stays a link"


def output_is_input(bench):
    """the output is one of the inputs | `convert a.jdx -o a.jdx`, `check a.jdx -o a.jdx --format csv`"""
    before = bench.path("fraction-1.jdx").read_bytes()
    bench.path("link.jdx").symlink_to("fraction-1.jdx")
    for output in ("fraction-1.jdx", "./fraction-1.jdx", "link.jdx"):
        says = ["would overwrite the input"]
        bench.fails(2, "convert", "fraction-1.jdx", "-o", output, says=says, left=["link.jdx"])
        bench.fails(2, "check", "fraction-1.jdx", "-o", output, "--format", "csv", says=says, left=["link.jdx"])
    assert bench.path("fraction-1.jdx").read_bytes() == before
    return "refused, exit code 2: a measurement is never overwritten"


OUTPUTS = (
    ("check", "none.jdx", "-o", "{}.csv"), ("draw", "none.jdx", "-o", "{}.svg"), ("report", "none.jdx", "-o", "{}.html"),
    ("convert", "none.jdx", "-o", "{}.jdx"), ("simulate", "none.toml", "-o", "{}.jdx"),
    ("drying", "none-2-h.jdx", "--product", "dye.toml", "-o", "{}.svg"),
)


def no_output_folder(bench):
    """the output's folder is missing | `-o missing/rows.csv` and the like"""
    for command in OUTPUTS:
        bench.fails(2, *(part.format("missing/x") for part in command), says=["its folder is not there"])
    return "said before anything is read, exit code 2"


def output_is_a_folder(bench):
    """the output is a folder or a device | `-o results.csv/`, `-o /dev/null`"""
    for command in OUTPUTS:
        name = command[-1].format("folder")
        bench.path(name).mkdir()
        bench.fails(2, *command[:-1], name, says=["it is a folder"], left=[name])
        bench.path(name).rmdir()
    bench.fails(2, *CHECK, "-o", "/dev/null", "--format", "csv", says=["no regular file"])
    assert Path("/dev/null").is_char_device()
    return "said before anything is read, exit code 2; the device is not replaced"


def output_folder_without_rights(bench):
    """no right to write into the output's folder | mode 555, not run as root"""
    bench.path("out").mkdir()
    bench.path("out").chmod(0o555)
    for command in (("check", "fraction-1.jdx", "-o", "out/x.csv"), ("draw", "fraction-1.jdx", "-o", "out/x.svg")):
        bench.fails(1, *command, powerless=True, says=["Permission denied"], left=["out"])
    assert not os.listdir(bench.path("out"))
    return "one message, exit code 1"


FAULTS = (
    full_standard_output, full_table, full_resume_file, full_file, output_exists, output_is_input, no_output_folder,
    output_is_a_folder, output_folder_without_rights,
)
