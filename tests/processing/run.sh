#!/bin/sh
# The library's Fourier transform against numpy and scipy, then baseline and line finding beside pybaselines and
# scipy on the same simulated spectra (all from PyPI), in a virtual environment of its own.
# LEES_EXAMPLES: the folder of the built examples (built in release, as for README.md, when not given; times mean something only
# then).
set -eu
cd "$(dirname "$0")/../.."
target="${CARGO_TARGET_DIR:-target}"
environment="$target/python-processing"
[ -x "$environment/bin/python" ] || python3 -m venv "$environment"
"$environment/bin/python" -c "import numpy, scipy, pybaselines" 2>/dev/null ||
    "$environment/bin/pip" install --quiet "numpy>=1.24" "scipy>=1.10" "pybaselines>=1.1"
[ -n "${LEES_EXAMPLES:-}" ] || cargo build --quiet --release -p lees-process --example transform_text --example bench_spectra
examples="${LEES_EXAMPLES:-$target/release/examples}"
"$environment/bin/python" tests/processing/compare_fft.py "$examples/transform_text"
"$examples/bench_spectra" "$target/bench-spectra"
exec "$environment/bin/python" tests/processing/compare.py "$target/bench-spectra"
