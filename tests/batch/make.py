"""Makes small spectra of an invented dye with `lees simulate`: each with its own amounts and noise."""

import os
import random
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

RECIPE = """
title = "LD-3, sample {index}"
seed = {index}
[instrument]
field_mhz = 400.13
solvent = "CDCl3"
spectral_width_hz = 6009.6
carrier_ppm = 5.0
fid_points = 8192
scans = 16
relaxation_delay_s = 25
pulse_angle_deg = 30
[processing]
points = 16384
lb_hz = 0.3
[noise]
snr = 900
[output]
counts = 8
[product]
name = "LD-3"
formula = "C14H15NO2"
signals = [
  {{ name = "H-5", at = 7.44, h = 1, split = "d 9.0", t1 = 1.4 }},
  {{ name = "H-6", at = 6.61, h = 1, split = "dd 9.0 2.5", t1 = 1.2 }},
  {{ name = "H-8", at = 6.50, h = 1, split = "d 2.5", t1 = 1.5 }},
  {{ name = "H-3", at = 6.02, h = 1, t1 = 1.8 }},
  {{ name = "CH2", at = 3.41, h = 4, split = "q 7.1", t1 = 0.7 }},
  {{ name = "CH3", at = 1.21, h = 6, split = "t 7.1", t1 = 0.9 }},
]
[[volatile]]
name = "dichloromethane"
formula = "CH2Cl2"
wt_percent = {dichloromethane:.4f}
signals = [{{ at = 5.30, h = 2, t1 = 7.5 }}]
[[volatile]]
name = "ethyl acetate"
formula = "C4H8O2"
wt_percent = {ethyl_acetate:.4f}
signals = [
  {{ name = "OCH2", at = 4.12, h = 2, split = "q 7.1", t1 = 5.0 }},
  {{ name = "CH3CO", at = 2.045, h = 3, t1 = 5.0 }},
  {{ name = "CH3", at = 1.26, h = 3, split = "t 7.1", t1 = 5.0 }},
]
[nmr_solvent]
name = "CHCl3"
formula = "CHCl3"
mole_ratio = 0.4
signals = [{{ at = 7.26, h = 1, t1 = 6.0 }}]
[water]
name = "water"
formula = "H2O"
mole_ratio = 0.1
signals = [{{ at = 1.56, h = 2, width = 3.0, t1 = 3.0 }}]
"""

PRODUCT = """
name = "LD-3"
formula = "C14H15NO2"
signals = "7.44 (d, J = 9.0 Hz, 1H), 6.61 (dd, J = 9.0, 2.5 Hz, 1H), 6.50 (d, J = 2.5 Hz, 1H), 6.02 (s, 1H), \\
3.41 (q, J = 7.1 Hz, 4H), 1.21 (t, J = 7.1 Hz, 6H)"
[limits]
total = "0.8 wt%"
dichloromethane = "0.3 wt%"
"ethyl acetate" = "0.5 wt%"
"""


def make(folder, index):
    out = folder / "rack" / f"{index:05}.jdx"
    if out.exists():
        return
    amounts = random.Random(index)
    text = RECIPE.format(
        index=index, dichloromethane=amounts.uniform(0.02, 0.6), ethyl_acetate=amounts.uniform(0.05, 1.0)
    )
    recipe = folder / f"{index:05}.toml"
    recipe.write_text(text)
    subprocess.run([os.environ["LEES_BIN"], "simulate", recipe, "-o", out], check=True)
    recipe.unlink()


def main():
    folder, count = Path(sys.argv[1]), int(sys.argv[2])
    (folder / "rack").mkdir(parents=True, exist_ok=True)
    (folder / "dye.toml").write_text(PRODUCT.replace("\\\n", "").strip() + "\n")
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda index: make(folder, index), range(count)))
    for extra in sorted((folder / "rack").iterdir())[count:]:
        extra.unlink()
    print(f"batch: {count} spectra in the rack")


main()
