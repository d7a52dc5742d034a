"""The same job scripted in Python, and the ratios of it and of the floor to a whole check, measured in one run.

The job: read JCAMP-DX (jcamp), take off a baseline (pybaselines), pick peaks (scipy), integrate them (numpy), set the axis by
the NMR solvent's residual line and look every peak up in the table of solvent shifts. It fits no line, names no molecule by
all of its groups and states no uncertainty: it does less than a check. Imports and the table are read once and not counted.
"""

import csv
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import jcamp
import numpy as np
from pybaselines import Baseline
from scipy import integrate, signal

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "demo-spectra"
PRODUCT = DEMO / "thiazolyl-coumarin.toml"
SPECTRA = ["batch-2-h.jdx", "batch-16-h.jdx", "fraction-3.jdx"]
DECAY = "batch-before-drying-fid.jdx"
ROUNDS = int(os.environ.get("LEES_BENCH_ROUNDS", "20"))
RESIDUAL_PPM = 7.26  # CHCl3 in CDCl3


def shifts(solvent):
    """Compound, group and shift of every tabulated signal in one NMR solvent."""
    rows = []
    with open(ROOT / "reference-tables" / "impurity_shifts.csv", newline="", encoding="utf-8") as table:
        for row in csv.DictReader(table):
            place = row[solvent].split("..")
            if place[0]:
                rows.append((float(place[0]), row["compound"], row["group"]))
    rows.sort()
    return np.array([row[0] for row in rows]), rows


def job(path, places, rows):
    """Compounds that may be in one spectrum, with the integral of each peak."""
    data = jcamp.readfile(str(path))
    ppm, y = np.asarray(data["x"], float), np.asarray(data["y"], float)
    if str(data.get("xunits", "")).upper() == "HZ":
        ppm = ppm / float(data[".observe frequency"])
    y = y - Baseline(ppm).arpls(y, lam=1e9, max_iter=10)[0]
    noise = 1.4826 * np.median(np.abs(np.diff(y))) / np.sqrt(2)
    peaks, found = signal.find_peaks(y, height=8 * noise, prominence=8 * noise, width=2, rel_height=0.9)
    near = peaks[np.abs(ppm[peaks] - RESIDUAL_PPM) < 0.1]
    ppm = ppm + (RESIDUAL_PPM - ppm[near[np.argmax(y[near])]] if near.size else 0.0)
    named = []
    for peak, left, right in zip(peaks, found["left_ips"], found["right_ips"]):
        low, high = int(left), int(right) + 2
        area = abs(integrate.trapezoid(y[low:high], ppm[low:high]))
        first, last = np.searchsorted(places, [ppm[peak] - 0.03, ppm[peak] + 0.03])
        named.extend((rows[k][1], rows[k][2], float(ppm[peak]), float(area)) for k in range(first, last))
    return named


def fastest(work, rounds):
    """Seconds of the fastest of some rounds."""
    times = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def measured_by_library(program):
    """The table printed by the bench of ratios."""
    files = [str(DEMO / name) for name in [*SPECTRA, DECAY]]
    out = subprocess.run([program, str(ROUNDS), str(PRODUCT), *files], check=True, capture_output=True, text=True)
    head, *rows = [line.split("\t") for line in out.stdout.splitlines()]
    return {row[0]: dict(zip(head[1:], map(float, row[1:]))) for row in rows}


def peak_memory(command):
    """Most resident memory of one run of a command, in megabytes."""
    code = "import resource, subprocess, sys; subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL); "
    code += "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    out = subprocess.run([sys.executable, "-c", code, *command], check=True, capture_output=True, text=True)
    return int(out.stdout) / 1024


def run(command):
    """Runs a command; what it finds does not matter here."""
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)


def command_line(lees, folder):
    """Start-up, one run of the program, a batch on one and on two threads, memory."""
    product = ["--product", str(PRODUCT)]
    one = [lees, "check", str(DEMO / SPECTRA[0]), *product]
    print(f"start-up (--version)           {1e3 * fastest(lambda: run([lees, '--version']), ROUNDS):8.1f} ms")
    print(f"one check as a program         {1e3 * fastest(lambda: run(one), ROUNDS):8.1f} ms")
    print(f"peak memory of one check       {peak_memory(one):8.1f} MB")
    batch = Path(folder) / "spectra"
    batch.mkdir(parents=True, exist_ok=True)
    count = int(os.environ.get("LEES_BENCH_FILES", "60"))
    for k in range(count):
        (batch / f"s{k:04}.jdx").write_bytes((DEMO / SPECTRA[k % len(SPECTRA)]).read_bytes())
    seconds = {}
    for threads in (1, 2):
        out = Path(folder) / f"batch-{threads}.csv"
        command = [lees, "check", str(batch), *product, "--jobs", str(threads), "-o", str(out)]
        out.unlink(missing_ok=True)
        began = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        seconds[threads] = time.perf_counter() - began
        if not out.exists():
            sys.exit(f"no batch: {done.stderr}")
        out.unlink()
        print(f"batch of {count}, {threads} thread(s)        {1e3 * seconds[threads] / count:8.1f} ms a spectrum")
    print(f"two threads over one           {seconds[1] / seconds[2]:8.2f} times as fast")


def main():
    program, lees, folder = sys.argv[1:]
    places, rows = shifts("CDCl3")
    table = measured_by_library(program)
    print(f"{'file':30}{'floor':>9}{'check':>9}{'/floor':>8}{'Python':>10}{'Python/check':>14}   (ms, fastest)")
    for name in [*SPECTRA, DECAY]:
        row = table[name]
        line = f"{name:30}{row['floor_ms']:9.2f}{row['check_ms']:9.2f}{row['check_ms'] / row['floor_ms']:8.1f}"
        if name != DECAY:
            python = 1e3 * fastest(lambda: job(DEMO / name, places, rows), max(3, ROUNDS // 4))
            line += f"{python:10.1f}{python / row['check_ms']:14.1f}"
        print(line)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the script      {memory:8.1f} MB")
    command_line(lees, folder)


if __name__ == "__main__":
    main()
