#!/bin/sh
# Spin systems against a plain full-matrix solution in numpy (PyPI), in a virtual environment of its own.
# LEES_EXAMPLES: the folder of the built examples (built in release when not given).
set -eu
cd "$(dirname "$0")/../.."
target="${CARGO_TARGET_DIR:-target}"
environment="$target/python-spin"
[ -x "$environment/bin/python" ] || python3 -m venv "$environment"
"$environment/bin/python" -c "import numpy" 2>/dev/null || "$environment/bin/pip" install --quiet "numpy>=1.24"
[ -n "${LEES_EXAMPLES:-}" ] || cargo build --quiet --release -p lees-spin --example lines
exec "$environment/bin/python" tests/spin/check.py "${LEES_EXAMPLES:-$target/release/examples}/lines"
