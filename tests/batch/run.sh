#!/usr/bin/env bash
# Many spectra through the real binary: order, cores, memory, bad inputs, archives, interruption and resuming.
#
# LEES_BIN: the program (built in release when not given). LEES_BATCH_COUNT: spectra to make (2000).
# LEES_BATCH_FOLDER: where to keep them between runs (a temporary folder when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/program.sh
folder=${LEES_BATCH_FOLDER:-$(mktemp -d)}
[ -n "${LEES_BATCH_FOLDER:-}" ] || trap 'rm -rf "$folder"' EXIT
python3 tests/batch/make.py "$folder" "${LEES_BATCH_COUNT:-2000}"
python3 tests/batch/check.py "$folder"
