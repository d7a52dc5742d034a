#!/usr/bin/env bash
# Tables as other readers see them: pandas, pyarrow and DuckDB open what lees-report wrote.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=${CARGO_TARGET_DIR:-target}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

mkdir "$folder/once" "$folder/twice"
cargo build -q -p lees-report --features columnar --example tables
"$target/debug/examples/tables" "$folder/once" &
once=$!
"$target/debug/examples/tables" "$folder/twice"
wait "$once"

venv="$target/venv-tables"
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/python" -m pip install -q -r tests/tables/requirements.txt
"$venv/bin/python" tests/tables/check.py "$folder/once" "$folder/twice"
