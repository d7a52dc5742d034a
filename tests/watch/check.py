"""Lets files arrive in a watched folder in awkward ways; each must be checked exactly once."""

import atexit
import csv
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
import zipfile
from pathlib import Path

BIN = os.environ["LEES_BIN"]
PATIENCE = 900  # seconds; a machine busy with other things is no fault of the watch


class Watch:
    """A running `lees watch`, its log lines and its outputs."""

    def __init__(self, folder, product, *args, settle=0.5):
        command = [BIN, "watch", folder, "--product", product, "--settle", str(settle), *args]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        atexit.register(self.process.kill)
        self.lines = []
        self.reader = threading.Thread(target=lambda: self.lines.extend(iter(self.process.stdout.readline, "")))
        self.reader.daemon = True
        self.reader.start()
        self.wait(lambda: any(line.startswith("watching") for line in self.lines))

    def wait(self, done):
        end = time.monotonic() + PATIENCE
        while not done():
            assert time.monotonic() < end, ("timed out", self.lines[-20:])
            assert self.process.poll() is None, self.lines[-20:]
            time.sleep(0.05)

    def told(self, start, name):
        return [line for line in self.lines if line.startswith(start) and name in line]

    def until(self, start, name):
        self.wait(lambda: self.told(start, name))

    def end(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        code = self.process.wait(60)
        self.reader.join(10)
        return code


def rows(place):
    with open(place / "watch.lees.csv", newline="") as file:
        return list(csv.DictReader(file))


def slowly(source, target, pieces=12, pause=0.2):
    data = source.read_bytes()
    step = len(data) // pieces + 1
    with open(target, "wb", buffering=0) as file:
        for start in range(0, len(data), step):
            file.write(data[start : start + step])
            time.sleep(pause)


def main():
    folder = Path(sys.argv[1])
    product, supply = folder / "dye.toml", sorted((folder / "rack").iterdir())
    inbox = folder / "inbox"
    inbox.mkdir()
    shutil.copy(supply[0], inbox / "early.jdx")
    names = ["early.jdx"]

    watch = Watch(inbox, product)
    watch.until("checked", "early.jdx")

    # Slower than the settling time between two pieces: the missing end label holds it back.
    threads = [threading.Thread(target=slowly, args=(supply[1], inbox / "slow.jdx"))]
    threads.append(threading.Thread(target=slowly, args=(supply[2], inbox / "stalling.jdx", 4, 1.5)))
    [thread.start() for thread in threads]

    aside = inbox / "renamed.jdx.tmp"
    shutil.copy(supply[3], aside)
    time.sleep(1.0)
    aside.rename(inbox / "renamed.jdx")
    elsewhere = folder / "moved.jdx"
    shutil.copy(supply[4], elsewhere)
    elsewhere.rename(inbox / "moved.jdx")

    # Written twice in quick succession: first half a file, then the whole.
    (inbox / "twice.jdx").write_bytes(supply[5].read_bytes()[:3000])
    time.sleep(0.2)
    shutil.copy(supply[5], inbox / "twice.jdx")

    # Deleted before it is whole.
    (inbox / "gone.jdx").write_bytes(supply[6].read_bytes()[:3000])
    time.sleep(0.8)
    (inbox / "gone.jdx").unlink()

    # A folder of files moved in at once.
    (folder / "sub").mkdir()
    shutil.copy(supply[7], folder / "sub" / "inner.jdx")
    (folder / "sub").rename(inbox / "sub")

    [thread.join() for thread in threads]
    arrived = ["slow.jdx", "stalling.jdx", "renamed.jdx", "moved.jdx", "twice.jdx"]
    for name in [*arrived, "sub/inner.jdx"]:
        watch.until("checked", name)
    names += arrived
    assert [line for line in watch.lines if "gone before it was whole" in line and "gone.jdx" in line]
    assert not [line for line in watch.lines if line.startswith("failed")], watch.lines
    print("watch: slow, stalling, renamed, moved, rewritten, deleted and a moved folder: each checked once")

    # Written again with the same content: once is enough. The same content under another name is another file.
    shutil.copy(supply[5], inbox / "twice.jdx")
    shutil.copy(supply[5], inbox / "copy.jdx")
    watch.until("checked", "copy.jdx")
    names.append("copy.jdx")
    first, second = (json.loads((inbox / f"{name}.lees.json").read_text()) for name in ("twice.jdx", "copy.jdx"))
    assert first["input"].pop("path") != second["input"].pop("path") and first == second

    # Written again with other content: checked again, its report is the new one.
    shutil.copy(supply[6], inbox / "anew.jdx")
    watch.until("checked", "anew.jdx")
    shutil.copy(supply[7], inbox / "anew.jdx")
    watch.wait(lambda: len(watch.told("checked", "anew.jdx")) == 2)
    hashes = [row["sha256"] for row in rows(inbox) if row["path"].endswith("anew.jdx")]
    assert hashes == [hashlib.sha256(supply[n].read_bytes()).hexdigest() for n in (6, 7)]
    assert json.loads((inbox / "anew.jdx.lees.json").read_text())["input"]["sha256"] == hashes[1]
    names += ["anew.jdx", "anew.jdx"]

    # Two hundred at once.
    many = [f"many-{number:03}.jdx" for number in range(200)]
    for name, source in zip(many, supply[20:]):
        shutil.copy(source, inbox / name)
    watch.wait(lambda: len(watch.told("checked", "many-")) >= 200)
    names += many
    assert watch.end() == 0
    assert not watch.told("failed", ""), watch.told("failed", "")[:3]
    found = [Path(row["path"]).name for row in rows(inbox)]
    assert found.count("inner.jdx") == 1
    exactly_once_but(inbox, names, "inner.jdx")
    print("watch: two hundred at once, each checked exactly once")

    # Restarts: killed in the middle, with files that came while it was down.
    before = len(rows(inbox))
    for name, source in zip([f"late-{n}.jdx" for n in range(8)], supply[8:16]):
        shutil.copy(source, inbox / name)
    watch = Watch(inbox, product, settle=0.2)
    watch.wait(lambda: watch.told("checked", "late-"))
    watch.end(signal.SIGKILL)
    table = inbox / "watch.lees.csv"
    table.write_text(table.read_text()[:-40])
    watch = Watch(inbox, product, settle=0.2)
    for number in range(8):
        watch.wait(lambda: len({Path(row["path"]).name for row in rows(inbox)} & {f"late-{number}.jdx"}) == 1)
    time.sleep(1.5)
    assert watch.end(signal.SIGINT) == 0
    assert len(rows(inbox)) == before + 8
    names += [f"late-{n}.jdx" for n in range(8)]
    exactly_once_but(inbox, names, "inner.jdx")
    print("watch: killed and restarted: nothing repeated, nothing lost")

    # A separate output folder, a file that is no spectrum, and a single pass.
    outbox = folder / "outbox"
    other = folder / "other"
    other.mkdir()
    shutil.copy(supply[17], other / "one.jdx")
    (other / "bad.jdx").write_text("##TITLE= not a spectrum\n##END=\n")
    (other / "notes.txt").write_text("a note beside the spectra\n")
    for round_ in range(2):
        # However the folder is named, its files are the same.
        named = other if round_ == 0 else os.path.relpath(other)
        done = subprocess.run(
            [BIN, "watch", named, "-o", outbox, "--product", product, "--once", "--settle", "0.1"],
            capture_output=True, text=True, timeout=PATIENCE,
        )
        assert done.returncode == (1 if round_ == 0 else 0), "a file failed in the first pass, none is new in the second"
        checked = [line for line in done.stdout.splitlines() if line.startswith(("checked", "failed"))]
        assert len(checked) == (2 if round_ == 0 else 0), done.stdout
    assert len(rows(outbox)) == 2 and sorted(os.listdir(other)) == ["bad.jdx", "notes.txt", "one.jdx"]
    assert "FAILED" in (outbox / "bad.jdx.lees.txt").read_text()
    assert not list(outbox.rglob("*.html")), "no pages unless asked for"
    print("watch: --once into another folder, and again: nothing repeated")
    check_page(folder, product, supply)


def check_page(folder, product, supply):
    """With --report each file that could be checked has its page too, the one that `lees report` writes."""
    inbox, outbox = folder / "paged", folder / "pages"
    (inbox / "sub").mkdir(parents=True)
    shutil.copy(supply[18], inbox / "one.jdx")
    shutil.copy(supply[19], inbox / "sub" / "two.jdx")
    with zipfile.ZipFile(inbox / "pair.zip", "w") as archive:
        archive.write(supply[17], "b/second.jdx")
        archive.write(supply[16], "first.jdx")
        archive.writestr("bad.jdx", "##TITLE= not a spectrum\n##END=\n")
    (inbox / "bad.jdx").write_text("##TITLE= not a spectrum\n##END=\n")
    command = [BIN, "watch", inbox, "-o", outbox, "--product", product, "--once", "--settle", "0.1"]
    done = subprocess.run([*command, "--report"], timeout=PATIENCE, stdout=subprocess.DEVNULL)
    assert done.returncode == 1, "bad.jdx and the bad member failed"
    found = sorted(str(page.relative_to(outbox)) for page in outbox.rglob("*.html"))
    assert found == ["one.jdx.lees.html", "pair.zip.lees.html", "sub/two.jdx.lees.html"], found
    for name in found:
        source = inbox / name.removesuffix(".lees.html")
        page = folder / "by-report.html"
        by_report = subprocess.run([BIN, "report", source, "--product", product, "-o", page], timeout=PATIENCE)
        assert by_report.returncode == (1 if source.suffix == ".zip" else 0)
        assert (outbox / name).read_text() == page.read_text(), name
    check_members(folder, product, inbox, outbox)
    print("watch: --report writes the page of each file, as the report command does")


def check_members(folder, product, inbox, outbox):
    """What is in an archive has the rows, by the names, that `lees check` gives it; a bad member is one row of them."""
    archive, table = inbox / "pair.zip", folder / "pair.csv"
    command = [BIN, "check", archive, "--product", product, "--rows", "spectra", "-o", table]
    assert subprocess.run(command, timeout=PATIENCE, capture_output=True).returncode == 1
    with open(table, newline="") as file:
        wanted = list(csv.DictReader(file))
    assert [row["path"] for row in wanted] == [f"{archive}/{name}" for name in ("b/second.jdx", "bad.jdx", "first.jdx")]
    assert [row for row in rows(outbox) if row["path"].startswith(str(archive))] == wanted
    objects = [json.loads(line) for line in (outbox / "pair.zip.lees.json").read_text().splitlines()]
    assert [o["input"]["path"] for o in objects] == [f"{archive}/b/second.jdx", f"{archive}/first.jdx"]
    assert f"FAILED  {archive}/bad.jdx" in (outbox / "pair.zip.lees.txt").read_text()
    print("watch: members of an archive by their names, as the check command has them")


def exactly_once_but(inbox, names, other):
    found = sorted(Path(row["path"]).name for row in rows(inbox))
    assert found == sorted([*names, other]), (set(found) ^ set([*names, other]))
    for name in names:
        report = inbox / f"{name}.lees.json"
        assert json.loads(report.read_text())["input"]["path"] == str(inbox / name)
        assert (inbox / f"{name}.lees.txt").stat().st_size > 100


main()
