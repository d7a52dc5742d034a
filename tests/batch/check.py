"""Drives the real binary over a rack of spectra and holds it to what it promises."""

import csv
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path

BIN = os.environ["LEES_BIN"]
# Resident memory may grow by a few times what a result takes in the summary, not by what a spectrum takes.
MOST_GROWTH_KIB_A_SPECTRUM = 4
# The C library cannot give back all it was handed in one piece: some 2 MiB within the first few hundred spectra, then no more.
FRAGMENTS_KIB = 2048
# What does not need many spectra is held to on the first of them.
SMALL = 60
# Limit of the sum of volatiles in the pool, wt%.
POOL_LIMIT = 1.2


def run(*args, code=0):
    """Exit code, standard output, standard error and largest resident memory in KiB."""
    process = subprocess.Popen([BIN, *map(str, args)], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    out, err = process.stdout.read(), None
    err = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == code, (process.returncode, err.decode()[-2000:])
    return out, err.decode(), usage.ru_maxrss


class Rack:
    def __init__(self, folder, name, product):
        self.rack, self.product = folder / name, product
        self.files = sorted(self.rack.iterdir())
        self.out = folder / f"out-{name}"
        shutil.rmtree(self.out, ignore_errors=True)
        self.out.mkdir()

    def small(self):
        """A rack of its own with the first few spectra."""
        folder = self.rack.parent / "small"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        for path in self.files[:SMALL]:
            shutil.copy(path, folder)
        return Rack(folder.parent, folder.name, self.product)

    def check(self, *args, **keywords):
        return run("check", self.rack, "--product", self.product, *args, **keywords)

    def table(self, name, *args):
        path = self.out / name
        self.check("-o", path, *args)
        return path.read_bytes()


def read_csv(data):
    return list(csv.DictReader(data.decode().splitlines()))


FORMS = {
    "findings.csv": [], "spectra.tsv": ["--rows", "spectra"], "findings.parquet": [], "objects.jsonl": [],
}


def check_forms(rack):
    """The same bytes on one core and on all, in every form, in the order of the names; nothing is left beside it."""
    tables = {}
    for name, extra in FORMS.items():
        tables[name] = rack.table("all-" + name, *extra)
        assert not (rack.out / f"all-{name}.resume").exists() and not (rack.out / f"all-{name}.part").exists()
        assert tables[name] == rack.table("one-" + name, "--jobs", 1, *extra), name
    for jobs in (2, 3, 16):
        standard, _, _ = rack.check("--format", "json", "--jobs", jobs)
        assert standard == tables["objects.jsonl"], jobs
    paths = [json.loads(line)["input"]["path"] for line in tables["objects.jsonl"].splitlines()]
    assert paths == [str(path) for path in rack.files]
    found = {row["name"] for row in read_csv(tables["findings.csv"])}
    assert {"dichloromethane", "ethyl acetate"} <= found, found
    print(f"batch: {len(paths)} spectra alike on 1, 2, 3 and 16 threads, in csv, tsv, parquet and json")
    return tables


def check_many(rack):
    """All spectra: one thread and all cores alike, memory flat, progress told, stopped and killed and resumed alike."""
    few = rack.files[: max(50, len(rack.files) // 10)]
    listing = rack.out / "few.csv"
    listing.write_text("file\n" + "".join(f"{path}\n" for path in few))
    _, _, small = run("check", "--sheet", listing, "--product", rack.product, "-o", rack.out / "few-findings.csv")
    begun = time.monotonic()
    _, err, large = rack.check("-o", rack.out / "findings.csv")
    check_progress(rack, err, time.monotonic() - begun)
    growth = (large - small - FRAGMENTS_KIB) / (len(rack.files) - len(few))
    print(f"batch: {small / 1024:.0f} MiB for {len(few)}, {large / 1024:.0f} MiB for {len(rack.files)} spectra")
    assert growth < MOST_GROWTH_KIB_A_SPECTRUM, f"{growth:.2f} KiB a spectrum"
    table = (rack.out / "findings.csv").read_bytes()
    checked = list(dict.fromkeys(row["path"] for row in read_csv(table)))
    assert checked == [str(path) for path in rack.files]
    assert table == rack.table("one.csv", "--jobs", 1)
    print(f"batch: {len(rack.files)} spectra alike on one and all cores, {len(table)} bytes")
    check_resume(rack, "findings.csv", table)


def check_progress(rack, err, seconds):
    """In a pipe the progress comes as plain lines, one in ten seconds at most; a short run says nothing."""
    assert "\x1b" not in err and "\r" not in err, err
    told = re.findall(rf"^lees: (\d+) of {len(rack.files)} checked, about .+ left$", err, re.M)
    done = [int(number) for number in told]
    assert done == sorted(done) and len(done) <= seconds / 10, (done, seconds)
    assert done or seconds < 20, (err, seconds)
    print(f"batch: {len(done)} lines of progress in {seconds:.0f} s in a pipe")


def interrupted(rack, name, how, share, *args):
    """Starts a run into `name`, stops it by a signal once `share` of the results is kept, gives its exit code."""
    process = subprocess.Popen(
        [BIN, "check", rack.rack, "--product", rack.product, "-o", rack.out / name, *args],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )
    kept = rack.out / f"{name}.resume"
    while process.poll() is None:
        if kept.exists() and kept.read_bytes().count(b"\n") > share * len(rack.files):
            process.send_signal(how)
            return process.wait()
        time.sleep(0.01)
    raise AssertionError("the run ended before it could be interrupted")


def check_resume(rack, name, table, *args):
    """Stopped by Ctrl-C, killed, killed again and resumed: complete rows at any time, and the same table in the end."""
    kept = f"killed-{name}"
    assert interrupted(rack, kept, signal.SIGINT, 0.2, *args) == 130
    part = (rack.out / kept).read_bytes()
    if not name.endswith(".parquet"):
        assert part.endswith(b"\n") and len(part) < len(table) and table.startswith(part)
    assert interrupted(rack, kept, signal.SIGKILL, 0.5, "--resume", *args) == -signal.SIGKILL
    assert (rack.out / kept).read_bytes() == part, "nothing half-written under the final name"
    assert interrupted(rack, kept, signal.SIGKILL, 0.7, "--resume", *args) == -signal.SIGKILL
    begun = time.monotonic()
    _, err, _ = rack.check("-o", rack.out / kept, "--resume", *args)
    over = int(re.search(r"(\d+) results taken over", err).group(1))
    assert over >= 0.7 * len(rack.files), err
    assert (rack.out / kept).read_bytes() == table
    seconds = time.monotonic() - begun
    print(f"batch: {name} stopped, killed twice, resumed from {over} of {len(rack.files)}: the same bytes ({seconds:.1f} s)")


def check_other_settings(rack):
    """What was done with other settings, or to a file that has changed since, is not taken over."""
    name = "settings.csv"
    interrupted(rack, name, signal.SIGKILL, 0.5)
    limit = ["--total-limit", "0.1 wt%"]
    rack.check("-o", rack.out / name, "--resume", *limit)
    assert (rack.out / name).read_bytes() == rack.table("fresh.csv", *limit)
    interrupted(rack, name, signal.SIGKILL, 0.5)
    first, second = rack.files[0], rack.files[1]
    original = first.read_bytes()
    try:
        first.write_bytes(second.read_bytes())
        rack.check("-o", rack.out / name, "--resume")
        assert (rack.out / name).read_bytes() == rack.table("fresh.csv")
    finally:
        first.write_bytes(original)
    print("batch: other settings and changed files are checked anew")


def check_bad_inputs(rack, tables):
    """Rubbish between good files costs a message and exit code 1, and changes no other row."""
    bad = {"00000-a.jdx": b"\x00\xff" * 500, "00001-b.jdx": b"##TITLE= cut\n##DATA TYPE= NMR SPECT", "00002-c.jdx": b""}
    for name, content in bad.items():
        (rack.rack / name).write_bytes(content)
    (rack.rack / "00003-d.jdx").symlink_to("nowhere.jdx")
    try:
        _, err, _ = rack.check("-o", rack.out / "bad.tsv", "--rows", "spectra", code=1)
    finally:
        for name in [*bad, "00003-d.jdx"]:
            (rack.rack / name).unlink()
    rows = list(csv.DictReader((rack.out / "bad.tsv").read_text().splitlines(), delimiter="\t"))
    good = list(csv.DictReader(tables["spectra.tsv"].decode().splitlines(), delimiter="\t"))
    assert [row for row in rows if not row["error"]] == good
    failed = [row for row in rows if row["error"]]
    assert len(failed) == 4 and all(row["verdict"] == "" and row["path"] for row in failed), failed
    assert all(Path(name).name in err for name in bad), err
    print("batch: four bad inputs are four messages and four rows; the others stay as they were")


def check_archive(rack, tables):
    """The same spectra from a zip, all of it and by a pattern within it."""
    archive = rack.out / "rack.zip"
    chosen = rack.files[:40]
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as file:
        for path in random.Random(1).sample(chosen, len(chosen)):
            file.write(path, f"box/{path.name}")
        file.writestr("box/notes.md", "not a spectrum")
    wanted = [row for row in read_csv(tables["findings.csv"]) if Path(row["path"]) in chosen]
    for row in wanted:
        row["path"] = f"{archive}/box/{Path(row['path']).name}"
    for what, part in ((archive, wanted), (f"{archive}/box/*1.jdx", [r for r in wanted if r["path"].endswith("1.jdx")])):
        out, _, _ = run("check", what, "--product", rack.product, "--format", "csv")
        assert read_csv(out) == part and part, what
    print("batch: a zip and a pattern within it give the same rows")


def check_sheet(rack):
    """Fractions by a sheet: the ranking, the pool and its content, worked out here from the JSON."""
    sheet = rack.out / "fractions.csv"
    fractions = rack.files[:8]
    lines = [f"{path},{number},{0.5 + 0.25 * number}\n" for number, path in enumerate(fractions, 1)]
    sheet.write_text("File,Fraction,Mass (g)\n" + "".join(lines))
    # Looser than the product's own: a total's upper end reaches 0.5 wt% above what is seen in these short spectra.
    limit = ["--total-limit", f"{POOL_LIMIT} wt%"]
    text, _, _ = run("check", "--sheet", sheet, "--product", rack.product, *limit)
    text = text.decode()
    objects, _, _ = run("check", "--sheet", sheet, "--product", rack.product, *limit, "--format", "json")
    results = [json.loads(line) for line in objects.splitlines()]
    part = {}
    for number, result in enumerate(results, 1):
        amounts = [(v["wt_percent_high"], v["limit_wt_percent"]) for v in result["volatiles"]]
        amounts.append((result["total"]["wt_percent_high"], result["total"]["limit_wt_percent"]))
        part[number] = max(high / limit for high, limit in amounts if limit)
    order = sorted(part, key=part.get)
    lines = text.split("Cleanest first")[1].split("Pool")[0].splitlines()
    ranked = [found.group(1) for line in lines if (found := re.match(r" +\d+\.  (\d+) ", line))]
    assert [int(number) for number in ranked] == order, (ranked, order)
    members = text.split("  pool ")[1].split(":")[0]
    numbers = [n for run in members.split(", ") for n in range(int(run.split("-")[0]), int(run.split("-")[-1]) + 1)]
    assert numbers and order[0] in numbers, (numbers, order)
    mass = {n: 0.5 + 0.25 * n for n in numbers}
    totals = {n: results[n - 1]["total"] for n in numbers}
    for key in ("wt_percent", "wt_percent_low", "wt_percent_high"):
        mean = sum(totals[n][key] * mass[n] for n in numbers) / sum(mass.values())
        assert mean < POOL_LIMIT or key != "wt_percent_high"
        shown = text.split("predicted sum of volatiles ")[1].split(" wt %")[0]
        figures = shown.replace("(", "").replace(")", "").replace("to ", "").split()
        figure = figures[("wt_percent", "wt_percent_low", "wt_percent_high").index(key)]
        half_a_digit = 0.5 * 10 ** -len(figure.partition(".")[2])
        assert abs(float(figure) - mean) <= half_a_digit + 1e-9, (key, figures, mean)
    print(f"batch: fractions ranked and pooled as worked out by hand (pool {members})")


def main():
    folder = Path(sys.argv[1])
    rack = Rack(folder, "rack", folder / "dye.toml")
    small = rack.small()
    tables = check_forms(small)
    for name in ("spectra.tsv", "findings.parquet", "objects.jsonl"):
        check_resume(small, name, tables[name], *FORMS[name])
    check_other_settings(small)
    check_bad_inputs(small, tables)
    check_archive(small, tables)
    check_sheet(small)
    check_many(rack)


main()
