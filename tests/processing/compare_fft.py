"""Fourier transforms of the library against numpy and scipy: largest error over the largest modulus.

Usage: compare_fft.py PROGRAM, where PROGRAM is the built example `transform_text`.
"""

import subprocess
import sys

import numpy as np
import scipy.fft

LIMIT = 1e-12
LENGTHS = [64, 1000, 4096, 12_000, 30_011, 65_536, 131_072, 524_288]


def transformed(program, points):
    text = "\n".join(f"{z.real!r} {z.imag!r}" for z in points.tolist())
    done = subprocess.run([program], input=text, capture_output=True, text=True, check=True)
    return np.loadtxt(done.stdout.splitlines()) @ np.array([1, 1j])


def main(program):
    random = np.random.default_rng(20_260_101)
    worst = 0.0
    print("   points   against numpy   against scipy")
    for length in LENGTHS:
        points = random.standard_normal(length) + 1j * random.standard_normal(length)
        ours = transformed(program, points)
        errors = [np.abs(ours - other(points)).max() / np.abs(ours).max() for other in (np.fft.fft, scipy.fft.fft)]
        worst = max(worst, *errors)
        print(f"{length:9}   {errors[0]:13.2e}   {errors[1]:13.2e}")
    print(f"worst {worst:.2e}, allowed {LIMIT:.0e}")
    return worst < LIMIT


if __name__ == "__main__":
    sys.exit(0 if main(sys.argv[1]) else 1)
