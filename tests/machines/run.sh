#!/usr/bin/env bash
# The same bytes on unlike processors: the program as it runs here, with the C library's code for older processors, and
# on an emulated processor of 2008 (qemu-x86_64, where it is installed).
#
# LEES_BIN: the program (built in release when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/program.sh
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 tests/machines/check.py "$folder"
