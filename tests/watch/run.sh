#!/usr/bin/env bash
# A watched folder, through the real binary: every file checked exactly once, however it arrives.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/program.sh
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 tests/batch/make.py "$folder" 230
python3 tests/watch/check.py "$folder"
