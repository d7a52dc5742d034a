#!/usr/bin/env bash
# What happens when things go wrong, through the real binary; holds docs/faults.md to it.
#
# usage: run.sh [--write]   (--write puts what happened into docs/faults.md)
# LEES_BIN: the program (built in release when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/program.sh
folder=$(mktemp -d)
chmod 755 "$folder"
trap 'chmod -R u+rwX "$folder"; rm -rf "$folder"' EXIT
python3 tests/faults/check.py "$folder" "$@"
