# %% A first look: one batch of an invented laser dye, before and after drying
from pathlib import Path

import lees
import numpy as np

demo = Path(__file__).resolve().parents[2] / "demo-spectra"
product = demo / "thiazolyl-coumarin.toml"

# %% The verdict
(check,) = lees.check(demo / "batch-before-drying.jdx", product)
print(check)
print(check.reasons[0])

# %% What was found, as rows for a data frame
for row in check.findings():
    if row["class"] == "volatile":
        print(f"{row['name']:12} {row['wt_percent']:.3f} wt% ({row['wt_percent_low']:.3f} to {row['wt_percent_high']:.3f})")

# %% The spectrum behind it, as numpy arrays
highest = int(np.argmax(check.intensity))
print(f"{len(check.ppm)} points; highest at {check.ppm[highest]:.2f} ppm, {check.intensity[highest] / check.noise:.0f} times the noise")

# %% A whole drying series with one checker
checker = lees.Checker(product)
for hours in (2, 6, 16):
    (dried,) = checker.check(demo / f"batch-{hours}-h.jdx")
    value, low, high = dried.total_wt_percent
    print(f"{hours:3} h  {value:.3f} ({low:.3f} to {high:.3f}) wt%  {dried.verdict}")

# %% Something of known content, to see how far the numbers can be trusted
made = lees.simulate(demo / "recipes" / "batch-6-h.toml", seed=1)
(again,) = checker.check(made.jcamp(), name="simulated")
print(again)
