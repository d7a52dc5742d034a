#!/usr/bin/env bash
# The same bytes on unlike processors: the program as it runs here, with the C library's code for older processors, and
# on an emulated processor of 2008 (qemu-x86_64, where it is installed).
#
# LEES_BIN: the program (built in release when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
if [ -z "${LEES_BIN:-}" ]; then
    cargo build -q --release -p lees-cli
    LEES_BIN="${CARGO_TARGET_DIR:-target}/release/lees"
fi
export LEES_BIN
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 tests/machines/check.py "$folder"
