#!/bin/sh
# The library's Fourier transform against numpy and scipy (PyPI), in a virtual environment of its own.
set -eu
cd "$(dirname "$0")/../.."
environment="${CARGO_TARGET_DIR:-target}/python-processing"
[ -x "$environment/bin/python" ] || python3 -m venv "$environment"
"$environment/bin/python" -c "import numpy, scipy" 2>/dev/null ||
    "$environment/bin/pip" install --quiet "numpy>=1.24" "scipy>=1.10"
cargo build --quiet --release -p lees-process --example transform_text
exec "$environment/bin/python" tests/processing/compare_fft.py \
    "${CARGO_TARGET_DIR:-target}/release/examples/transform_text"
