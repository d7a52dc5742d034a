#!/bin/sh
# Spin systems against a plain full-matrix solution in numpy (PyPI), in a virtual environment of its own.
set -eu
cd "$(dirname "$0")/../.."
environment="${CARGO_TARGET_DIR:-target}/python-spin"
[ -x "$environment/bin/python" ] || python3 -m venv "$environment"
"$environment/bin/python" -c "import numpy" 2>/dev/null || "$environment/bin/pip" install --quiet "numpy>=1.24"
cargo build --quiet --release -p lees-spin --example lines
exec "$environment/bin/python" tests/spin/check.py "${CARGO_TARGET_DIR:-target}/release/examples/lines"
