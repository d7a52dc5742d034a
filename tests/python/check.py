"""The module against the command line: same results, same words, arrays handed over, lock released."""

import json
import os
import subprocess
import tempfile
import threading
import time
from pathlib import Path

import lees
import numpy as np

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo-spectra"
PRODUCT = DEMO / "thiazolyl-coumarin.toml"
SPECTRA = sorted(DEMO.glob("batch-*.jdx"))


def command_line(*args):
    done = subprocess.run([os.environ["LEES_BIN"], *map(str, args)], capture_output=True, text=True)
    return done.stdout, done.stderr


def check_same_results():
    lines, _ = command_line("check", *SPECTRA, "--product", PRODUCT, "--format", "json")
    checker = lees.Checker(PRODUCT)
    mine = [check for path in SPECTRA for check in checker.check(path)]
    assert [check.to_json() for check in mine] == lines.splitlines()
    for check, line in zip(mine, lines.splitlines()):
        wanted = json.loads(line)
        assert check.to_dict() == wanted
        assert check.verdict == wanted["verdict"]
        total = wanted["total"]
        assert check.total_wt_percent == (total["wt_percent"], total["wt_percent_low"], total["wt_percent_high"])
        assert [row["name"] for row in check.findings()] == [
            found["name"] for found in wanted["volatiles"] + wanted["not_counted"]
        ]
    print(f"python: {len(mine)} demo spectra as the command line has them, digit for digit")


def check_inputs():
    path = SPECTRA[0]
    data = path.read_bytes()
    wanted = lees.check(path, PRODUCT)[0].to_json()
    for source in (str(path), data, bytearray(data), memoryview(data), np.frombuffer(data, dtype=np.uint8)):
        assert lees.check(source, PRODUCT, name=str(path))[0].to_json() == wanted, type(source)
    assert lees.check(path, PRODUCT.read_text())[0].to_json() == wanted, "product as text"


def check_errors():
    bad = b"##TITLE= cut\n##JCAMP-DX= 4.24\n##DATA TYPE= NMR SPECTRUM\n"
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "cut.jdx"
        target.write_bytes(bad)
        _, said = command_line("check", target)
        for work in (lambda: lees.check(target), lambda: lees.read(bad, name=str(target))):
            try:
                work()
            except lees.Error as fault:
                assert isinstance(fault, ValueError)
                assert f"lees: {fault}\n" == said, (str(fault), said)
            else:
                raise AssertionError("no exception")
    for wrong in (
        lambda: lees.check(SPECTRA[0], PRODUCT, limits={"total": "0.5 mol%"}),
        lambda: lees.check(SPECTRA[0], PRODUCT, settings={"match.no_such": 1}),
        lambda: lees.check(SPECTRA[0], PRODUCT, solvent="no such solvent"),
        lambda: lees.check(SPECTRA[0], "no/such/file.toml"),
        lambda: lees.check("no/such/file.jdx"),
        lambda: lees.simulate("title = 'x'\nsede = 1\n"),
        lambda: lees.columns("nothing"),
    ):
        try:
            wrong()
        except lees.Error as fault:
            assert "\n" not in str(fault)
        else:
            raise AssertionError(wrong)


def check_limits():
    tight = lees.check(DEMO / "batch-16-h.jdx", PRODUCT, limits={"total": "10 ppm"})[0]
    loose = lees.check(DEMO / "batch-16-h.jdx", PRODUCT, limits={"total": "50 wt%", "2-propanol": "40 wt%"})[0]
    assert (tight.verdict, loose.verdict) == ("needs_drying", "dry"), (tight, loose)
    assert lees.Checker(PRODUCT).identity == lees.Checker(PRODUCT.read_text()).identity
    assert lees.Checker(PRODUCT).identity != lees.Checker(PRODUCT, limits={"total": "10 ppm"}).identity


def check_arrays():
    check = lees.check(SPECTRA[0], PRODUCT)[0]
    assert check.intensity is check.intensity, "the same array each time, not a copy"
    assert check.intensity.dtype == np.float64 and check.intensity.shape == check.ppm.shape
    assert np.all(np.diff(check.ppm) < 0)
    (spectrum,) = lees.read(SPECTRA[0])
    assert spectrum.kind == "spectrum" and len(spectrum) == len(spectrum.real) and spectrum.points is None
    (fid,) = lees.read(DEMO / "batch-before-drying-fid.jdx")
    assert fid.kind == "fid" and fid.points.dtype == np.complex128 and fid.real is None
    values = fid.points
    del fid
    assert np.isfinite(values).all(), "the array outlives its owner"


def check_simulated():
    recipe = DEMO / "recipes" / "batch-6-h.toml"
    made = lees.simulate(recipe)
    assert made.jcamp() == lees.simulate(recipe.read_text()).jcamp()
    assert made.jcamp() != lees.simulate(recipe, seed=99).jcamp()
    (read,) = lees.read(made.jcamp())
    span = np.ptp(made.spectrum.real)
    assert np.max(np.abs(read.real - made.spectrum.real)) < 1e-3 * span
    assert made.truth


def check_lock_is_released():
    """While one thread checks, another must get to run: it counts on, as it would not if the lock were held."""
    ticks, stop = [0], threading.Event()

    def count():
        while not stop.is_set():
            ticks[0] += 1
            time.sleep(0.001)

    thread = threading.Thread(target=count)
    thread.start()
    checker = lees.Checker(PRODUCT)
    time.sleep(0.05)
    before, begun = ticks[0], time.monotonic()
    for path in SPECTRA:
        checker.check(path)
    spent, counted = time.monotonic() - begun, ticks[0] - before
    stop.set()
    thread.join()
    assert counted > 100 * spent, (counted, spent)
    print(f"python: lock released; another thread ran {counted} times in {spent:.2f} s of checking")


check_same_results()
check_inputs()
check_errors()
check_limits()
check_arrays()
check_simulated()
check_lock_is_released()
