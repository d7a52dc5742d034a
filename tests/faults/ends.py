"""Sudden ends."""

import os
import shutil
import signal
import subprocess
import time

from bench import told

CHECK = ("check", ".", "--product", "dye.toml")
# Copies of the spectra, so that a run lasts long enough to be ended in the middle.
COPIES = 12


def many(bench):
    for number in range(COPIES):
        for path in bench.good:
            if path.endswith(".jdx"):
                shutil.copy(bench.path(path), bench.path(f"copy-{number:02}-{path}"))
    bench.good = bench.names()


def ended(bench, how, *args):
    """Starts a run into rows.csv and ends it by a signal once a few results are kept."""
    process = bench.begin(*CHECK, "-o", "rows.csv", "--jobs", 1, *args)
    kept = bench.path("rows.csv.resume")
    while not kept.exists() or kept.read_bytes().count(b"\n") < 6:
        assert process.poll() is None, "it ended before it could be ended"
        time.sleep(0.002)
    process.send_signal(how)
    _, err = process.communicate(timeout=60)
    return process.returncode, err


def resumed(bench, whole):
    ran = bench.run(*CHECK, "-o", "rows.csv", "--resume")
    assert ran.code == 0 and "results taken over" in ran.err, ran.err
    assert bench.path("rows.csv").read_bytes() == whole
    assert bench.names() == sorted([*bench.good, "rows.csv"])


def stopped(bench):
    """Ctrl-C, or the polite signal of a service manager, in the middle of `-o` | SIGINT, SIGTERM"""
    many(bench)
    whole = bench.table()
    for how in (signal.SIGINT, signal.SIGTERM):
        code, err = ended(bench, how)
        assert code == 130 and "stopped after" in err and "--resume does the rest" in err, (code, err)
        part = bench.path("rows.csv").read_bytes()
        assert part.endswith(b"\n") and len(part) < len(whole) and whole.startswith(part)
        assert not bench.path("rows.csv.part").exists()
        resumed(bench, whole)
        bench.path("rows.csv").unlink()
    return "what has begun is finished, complete rows stand under the name, exit code 130; `--resume` gives the same bytes"


def killed(bench):
    """killed in the middle of `-o` | SIGKILL"""
    many(bench)
    whole = bench.table()
    code, _ = ended(bench, signal.SIGKILL)
    assert code == -signal.SIGKILL and not bench.path("rows.csv").exists()
    resumed(bench, whole)
    return "nothing under the final name; `--resume` gives the same bytes and leaves nothing else behind"


def killed_while_drawing(bench):
    """killed while pictures are made | SIGKILL after every few milliseconds of `draw -o`"""
    target = bench.path("out.svg")
    assert bench.run("draw", "fraction-1.jdx", "-o", "out.svg").code == 0
    whole = target.read_bytes()
    target.write_text("older\n")
    for milliseconds in range(5, 100, 5):
        process = bench.begin("draw", "fraction-1.jdx", "-o", "out.svg")
        time.sleep(milliseconds / 1000)
        process.kill()
        process.communicate()
        assert target.read_bytes() in (b"older\n", whole)
    strangers = [name for name in bench.names() if name not in [*bench.good, "out.svg"]]
    assert all(name.startswith(".lees-") for name in strangers), strangers
    return "the older picture or the new one, nothing in between; at worst a hidden `.lees-` file is left"


def closed_pipe(bench):
    """nobody reads the output any more | `check ... \\| head -1`"""
    many(bench)
    for form in ("json", "csv", "text"):
        assert headed(bench, "--format", form) == (0, ""), form
    assert headed(bench, "--format", "json", "--gate") == (10, "")
    assert headed(bench, "-o", "rows.csv") == (0, ""), "written all the same"
    assert bench.path("rows.csv").exists() and not bench.path("rows.csv.resume").exists()
    return "a quiet end, exit code 0; with `--gate` everything is checked for the gate's exit code; a file of `-o` is written all the same"


def headed(bench, *args):
    """Exit code and messages of a run whose reader goes away after one byte."""
    process = bench.begin(*CHECK, *args)
    os.read(process.stdout.fileno(), 1)
    process.stdout.close()
    err = process.stderr.read()
    return process.wait(), told(err)


def closed_before(bench):
    """standard output closed from the start | `check ... >&-`"""
    command = f'"{bench.binary}" check fraction-1.jdx >&-'
    ran = subprocess.run(["bash", "-c", command], cwd=bench.folder, capture_output=True, text=True)
    assert ran.returncode == 0 and ran.stderr == "", ran
    return "checked; the output goes nowhere, as asked"


def bad_resume_file(bench):
    """the resume file is something else, or torn | a text of that name; the last line cut"""
    many(bench)
    whole = bench.table()
    bench.path("rows.csv.resume").write_text("dear diary\n")
    says = ["rows.csv.resume: line 1: not a resume file"]
    bench.fails(2, *CHECK, "-o", "rows.csv", "--resume", says=says, left=["rows.csv.resume"])
    assert bench.path("rows.csv.resume").read_text() == "dear diary\n"
    bench.path("rows.csv.resume").unlink()
    ended(bench, signal.SIGKILL)
    kept = bench.path("rows.csv.resume")
    kept.write_bytes(kept.read_bytes()[:-30])
    resumed(bench, whole)
    return "refused and left alone, exit code 2; the torn line is worked out again"


FAULTS = (stopped, killed, killed_while_drawing, closed_pipe, closed_before, bad_resume_file)
