"""Baseline and line finding beside general libraries, on the same simulated spectra of known content.

Baselines: pybaselines (asls, airpls, arpls, fabc). Peaks: scipy.signal (find_peaks, find_peaks_cwt).
Prints two Markdown tables: error and time.
"""

import csv
import pathlib
import sys
import time

import numpy as np
from pybaselines import Baseline
from scipy import signal

# (name, true position offset in the list of true lines, half window in Hz): +-30 widths sharp, +-4 widths broad.
TARGETS = [("3H sharp", 0, 30.0), ("OH 40 Hz", 1, 160.0), ("NH 120 Hz", 2, 480.0), ("0.03H impurity", 3, 30.0)]


def read(directory, seed):
    values = np.fromfile(directory / f"{seed}.f64")
    own = np.fromfile(directory / f"{seed}.baseline.f64")
    rows = list(csv.DictReader(open(directory / f"{seed}.csv")))
    pick = lambda kind: np.array([[float(r["position_hz"]), float(r["area"]), float(r["width_hz"])] for r in rows if r["kind"] == kind])
    step, milliseconds, _ = pick("step")[0]
    return values, own, pick("true"), pick("found"), pick("baseline"), step, milliseconds


def window_error(baseline, truth, step, position, half, area):
    """Error of a window's integral caused by the baseline alone, per cent of the line."""
    x = np.arange(len(baseline)) * step
    inside = np.abs(x - position) <= half
    return -100.0 * np.sum((baseline - truth)[inside]) * step / area


def baselines(values, sigma):
    fitter = Baseline(np.arange(len(values)))
    yield "none", lambda: np.zeros_like(values)
    yield "asls lam 1e9 p 0.01", lambda: fitter.asls(values, lam=1e9, p=0.01)[0]
    yield "asls lam 1e11 p 0.01", lambda: fitter.asls(values, lam=1e11, p=0.01)[0]
    yield "airpls lam 1e11", lambda: fitter.airpls(values, lam=1e11)[0]
    yield "arpls lam 1e11", lambda: fitter.arpls(values, lam=1e11)[0]
    yield "arpls lam 1e12", lambda: fitter.arpls(values, lam=1e12)[0]
    yield "fabc lam 1e11", lambda: fitter.fabc(values, lam=1e11)[0]


def peaks(flat, sigma, width):
    grid = np.exp(-0.5 * (np.arange(-24, 25) / (width / 2.355)) ** 2)
    smooth = np.convolve(flat, grid / grid.sum(), "same")
    scatter = 1.4826 * np.median(np.abs(smooth - np.median(smooth)))
    yield "find_peaks, height 5.4 sigma", lambda: signal.find_peaks(flat, height=5.4 * sigma)[0]
    yield "find_peaks, prominence 5.4 sigma", lambda: signal.find_peaks(flat, prominence=5.4 * sigma)[0]
    yield "smoothed, prominence 5.4 sigma", lambda: signal.find_peaks(smooth, prominence=5.4 * scatter)[0]
    yield "find_peaks_cwt", lambda: signal.find_peaks_cwt(flat, np.arange(4, 17, 4), min_snr=4)


def score(found, truth):
    """Found, missed and false lines; a line counts as found within 0.5 Hz (sharp) or a quarter width (broad)."""
    near = np.maximum(0.5, truth[:, 2] / 4)
    hits = [np.any(np.abs(found - p) < n) for p, n in zip(truth[:, 0], near)]
    false = [not np.any(np.abs(truth[:, 0] - f) < near) for f in found]
    return sum(hits), len(hits) - sum(hits), sum(false)


def main():
    directory = pathlib.Path(sys.argv[1])
    seeds = sorted(int(p.stem) for p in directory.glob("*.csv"))
    errors, times, lines, line_times = {}, {}, {}, {}
    for seed in seeds:
        values, own, truth, found, base, step, milliseconds = read(directory, seed)
        x = np.arange(len(values)) * step
        true_base = np.interp(x, base[:, 0], base[:, 1])
        trials = list(baselines(values, 1.0)) + [("Lees (baseline and lines together)", None)]
        for name, method in trials:
            start = time.perf_counter()
            z = own if method is None else method()
            spent = milliseconds if method is None else 1e3 * (time.perf_counter() - start)
            row = [window_error(z, true_base, step, truth[k, 0], half, truth[k, 1]) for _, k, half in TARGETS]
            errors.setdefault(name, []).append(row)
            times.setdefault(name, []).append(spent)
        flat = values - true_base
        for name, method in peaks(flat, 1.0, 1.0 / step):
            start = time.perf_counter()
            where = np.asarray(method()) * step
            line_times.setdefault(name, []).append(1e3 * (time.perf_counter() - start))
            lines.setdefault(name, []).append(score(where, truth))
        lines.setdefault("Lees", []).append(score(found[:, 0], truth))
        line_times.setdefault("Lees", []).append(milliseconds)
    print("| baseline | " + " | ".join(t[0] for t in TARGETS) + " | ms |")
    print("|---" * (len(TARGETS) + 2) + "|")
    for name, rows in errors.items():
        mean, sd = np.mean(rows, axis=0), np.std(rows, axis=0)
        cells = " | ".join(f"{m:+.2f} +- {s:.2f}" for m, s in zip(mean, sd))
        print(f"| {name} | {cells} | {np.mean(times[name]):.1f} |")
    print(f"\nError of the window's integral caused by the baseline, per cent of the line; {len(seeds)} spectra.\n")
    print("| lines (peak finders get the true baseline) | found | missed | false | ms |")
    print("|---|---|---|---|---|")
    for name, rows in lines.items():
        hit, miss, false = np.sum(rows, axis=0)
        print(f"| {name} | {hit} | {miss} | {false} | {np.mean(line_times[name]):.1f} |")
    ours, asls = np.array(errors["Lees (baseline and lines together)"]), np.array(errors["asls lam 1e11 p 0.01"])
    assert np.all(np.abs(ours.mean(axis=0)) < np.maximum(np.abs(asls.mean(axis=0)), 0.5)), "worse than plain smoothing"


if __name__ == "__main__":
    main()
