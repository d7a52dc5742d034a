#!/usr/bin/env bash
# A watched folder, through the real binary: every file checked exactly once, however it arrives.
set -euo pipefail
cd "$(dirname "$0")/../.."
if [ -z "${LEES_BIN:-}" ]; then
    cargo build -q --release -p lees-cli
    LEES_BIN="${CARGO_TARGET_DIR:-target}/release/lees"
fi
export LEES_BIN
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 tests/batch/make.py "$folder" 230
python3 tests/watch/check.py "$folder"
