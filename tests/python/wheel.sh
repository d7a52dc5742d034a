#!/usr/bin/env bash
# Builds the Python wheel with maturin and prints its path.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
venv="$target/venv-maturin"
[ -x "$venv/bin/maturin" ] || { python3 -m venv "$venv" && "$venv/bin/pip" install -q 'maturin>=1.9,<2'; } >&2
rm -f "$target"/wheels/lees-*.whl
CARGO_TARGET_DIR="$target" "$venv/bin/maturin" build -q --release --locked -m python/Cargo.toml -o "$target/wheels" >&2
ls "$target"/wheels/lees-*.whl
