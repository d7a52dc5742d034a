"""How much faster two cores are than one, on a machine that does nothing else.

usage: speed.py FOLDER   (a rack made by make.py; LEES_BIN names the program)

Alternates runs on one and on two threads, takes the fastest of each, and appends a line to speed.csv beside this file.
Fails below 1.8.
"""

import csv
import os
import platform
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

LEAST = 1.8
ROUNDS = 3


def seconds(folder, jobs):
    command = [os.environ["LEES_BIN"], "check", folder / "rack", "--product", folder / "dye.toml"]
    begun = time.monotonic()
    subprocess.run([*command, "--format", "csv", "--jobs", str(jobs)], check=True, stdout=subprocess.DEVNULL)
    return time.monotonic() - begun


def main():
    folder = Path(sys.argv[1])
    count = len(list((folder / "rack").iterdir()))
    busy = os.getloadavg()[0]
    times = {1: [], 2: []}
    for _ in range(ROUNDS):
        for jobs in times:
            times[jobs].append(seconds(folder, jobs))
    one, two = min(times[1]), min(times[2])
    row = [date.today().isoformat(), count, os.cpu_count(), f"{busy:.2f}", f"{one:.2f}", f"{two:.2f}", f"{one / two:.3f}"]
    log = Path(__file__).with_name("speed.csv")
    new = not log.exists()
    with log.open("a", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        if new:
            writer.writerow(["date", "spectra", "cores", "load_before", "one_thread_s", "two_threads_s", "speed_up"])
        writer.writerow(row)
    print(f"{count} spectra on {platform.machine()}: {one:.2f} s on one thread, {two:.2f} s on two, {one / two:.2f} times")
    if one / two < LEAST:
        sys.exit(f"below {LEAST}; the load before was {busy:.2f}")


main()
