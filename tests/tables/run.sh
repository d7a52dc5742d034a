#!/usr/bin/env bash
# Tables as other readers see them: pandas, pyarrow and DuckDB open what lees-report wrote.
#
# LEES_EXAMPLES: the folder of the built examples (built when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
target=${CARGO_TARGET_DIR:-target}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

mkdir "$folder/once" "$folder/twice"
[ -n "${LEES_EXAMPLES:-}" ] || cargo build -q -p lees-report --features columnar --example tables
examples=${LEES_EXAMPLES:-$target/debug/examples}
"$examples/tables" "$folder/once" &
once=$!
"$examples/tables" "$folder/twice"
wait "$once"

venv="$target/venv-tables"
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/python" -m pip install -q -r tests/tables/requirements.txt
"$venv/bin/python" tests/tables/check.py "$folder/once" "$folder/twice"
