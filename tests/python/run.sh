#!/usr/bin/env bash
# The Python module from its wheel in a fresh virtual environment: example, behaviour, stubs.
#
# LEES_BIN: the program to compare with; LEES_WHEEL: the wheel (both built when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
. tests/program.sh
LEES_WHEEL=${LEES_WHEEL:-$(tests/python/wheel.sh)}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 -m venv "$folder/venv"
"$folder/venv/bin/pip" install -q "$LEES_WHEEL" 'mypy>=1.10'
"$folder/venv/bin/python" python/examples/first_look.py
"$folder/venv/bin/python" tests/python/check.py
"$folder/venv/bin/python" -m mypy.stubtest lees --ignore-disjoint-bases --allowlist tests/python/allowed.txt
