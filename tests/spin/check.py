"""Spin systems solved by numpy without any reduction: every nucleus its own spin, the whole Hamiltonian one matrix.

Builds H from Kronecker products of spin matrices, diagonalises it, and compares the spectrum (lines broadened
to 0.2 Hz) with the one from the lines the `lines` example prints. Random systems, fixed seed, so a failure repeats.
"""

import json
import subprocess
import sys

import numpy as np

FIELD = 400.0
WIDTH = 0.2
TOLERANCE = 2e-4  # of the tallest line: lines under 1e-6 of all protons are dropped, merging is 0.002 Hz


def spin_matrices(twice):
    """Sz, S+ of one spin."""
    m = np.arange(twice, -twice - 1, -2) / 2.0
    s = twice / 2.0
    raising = np.diag(np.sqrt(s * (s + 1) - m[1:] * (m[1:] + 1)), 1)
    return np.diag(m), raising


def embed(operators, dimensions, at):
    """One nucleus's operator in the product space."""
    out = np.eye(1)
    for k, size in enumerate(dimensions):
        out = np.kron(out, operators if k == at else np.eye(size))
    return out


def solve(system):
    """Positions in Hz and intensities in protons."""
    nuclei = []  # (group or None, partner or None, 2S)
    for g, group in enumerate(system["groups"]):
        nuclei += [(g, None, 1)] * group["protons"]
    for p, partner in enumerate(system["partners"]):
        nuclei += [(None, p, 1 if partner["spin"] == "Half" else 2)] * partner["count"]
    dimensions = [n[2] + 1 for n in nuclei]
    z, plus = [], []
    for k, nucleus in enumerate(nuclei):
        sz, sp = spin_matrices(nucleus[2])
        z.append(embed(sz, dimensions, k))
        plus.append(embed(sp, dimensions, k))
    size = z[0].shape[0]
    hamiltonian = np.zeros((size, size))
    lowering = np.zeros((size, size))
    for k, (group, _, _) in enumerate(nuclei):
        if group is not None:
            hamiltonian += system["groups"][group]["shift"] * FIELD * z[k]
            lowering += plus[k].T
    between = {}
    for a, b, j in system["couplings"]:
        between[(a, b)] = between[(b, a)] = j
    for i in range(len(nuclei)):
        for k in range(i):
            a, b = nuclei[i][0], nuclei[k][0]
            if a is not None and b is not None:
                # Protons within a group couple too (12 Hz here): it must make no difference.
                j = 12.0 if a == b else between.get((a, b), 0.0)
                flip = (plus[i] @ plus[k].T + plus[i].T @ plus[k]) / 2
                hamiltonian += j * (z[i] @ z[k] + flip)
            elif (a is None) != (b is None):
                group = a if a is not None else b
                partner = nuclei[k][1] if a is not None else nuclei[i][1]
                for g, j in system["partners"][partner]["couplings"]:
                    if g == group:
                        hamiltonian += j * (z[i] @ z[k])
    energies, vectors = np.linalg.eigh(hamiltonian)
    moments = vectors.T @ lowering @ vectors
    intensities = moments**2
    protons = sum(g["protons"] for g in system["groups"])
    lower, upper = np.nonzero(intensities > 1e-12)
    strength = intensities[lower, upper]
    return energies[upper] - energies[lower], strength * protons / strength.sum()


def spectrum(positions, intensities, grid):
    out = np.zeros_like(grid)
    for position, intensity in zip(positions, intensities):
        near = slice(*np.searchsorted(grid, [position - 40, position + 40]))
        out[near] += intensity / (1 + ((grid[near] - position) / (WIDTH / 2)) ** 2)
    return out


def random_system(random):
    sizes = [[1, 1, 1], [3, 2], [6, 1], [2, 2, 1], [4, 3], [1, 1, 1, 1, 1], [3, 2, 2], [2, 2, 2, 1]]
    protons = sizes[random.integers(len(sizes))]
    spread = 10.0 ** random.uniform(-1.5, 0.7)  # ppm: from strongly to weakly coupled
    groups = [
        {"name": f"g{k}", "shift": float(3 + random.uniform(-spread, spread)), "protons": n}
        for k, n in enumerate(protons)
    ]
    couplings = [
        [a, b, float(random.uniform(-15, 15))] for b in range(len(protons)) for a in range(b) if random.random() < 0.8
    ]
    partners = []
    if random.random() < 0.5 and sum(protons) < 7:
        spin = ["Half", "One"][random.integers(2)]
        reach = random.choice(len(protons), size=random.integers(1, len(protons) + 1), replace=False)
        partners = [{"spin": spin, "count": int(random.integers(1, 3)),
                     "couplings": [[int(g), float(random.uniform(-10, 10))] for g in reach]}]
    return {"groups": groups, "couplings": couplings, "partners": partners}


def main():
    random = np.random.default_rng(20)
    systems = [random_system(random) for _ in range(60)]
    questions = "\n".join(json.dumps({"field_mhz": FIELD, "system": s}) for s in systems)
    run = subprocess.run(sys.argv[1:], input=questions + "\n", capture_output=True, text=True, check=True)
    worst = 0.0
    for system, answer in zip(systems, run.stdout.splitlines(), strict=True):
        solved = json.loads(answer)
        assert solved["method"] == "Exact", solved["method"]
        lines = solved["transitions"]
        positions, intensities = solve(system)
        edges = positions.min() - 10, positions.max() + 10
        grid = np.arange(edges[0], edges[1], WIDTH / 8)
        expected = spectrum(positions, intensities, grid)
        got = spectrum([l["shift"] * FIELD for l in lines], [l["intensity"] for l in lines], grid)
        error = np.abs(got - expected).max() / expected.max()
        worst = max(worst, error)
        total = sum(l["intensity"] for l in lines)
        assert abs(total - sum(g["protons"] for g in system["groups"])) < 1e-9, total
        assert error < TOLERANCE, (error, system)
    print(f"{len(systems)} spin systems against numpy: largest difference {worst:.1e} of the tallest line")


if __name__ == "__main__":
    main()
