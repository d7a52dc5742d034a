#!/bin/sh
# Writes spectra and FIDs in every encoding and has two other decoders read them.
# Needs cargo, python3 and, for the general reader, a way to install the PyPI package `jcamp`.
# LEES_EXAMPLES: the folder of the built examples (built when not given).
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if [ -n "${LEES_EXAMPLES:-}" ]; then
    "$LEES_EXAMPLES/write_every_encoding" "$work/files"
else
    cargo run --quiet --manifest-path "$here/../../Cargo.toml" -p lees-format --example write_every_encoding -- "$work/files"
fi
python3 "$here/second_decoder.py" "$work/files"
python3 -m venv "$work/venv"
"$work/venv/bin/pip" install --quiet jcamp
"$work/venv/bin/python" "$here/general_reader.py" "$work/files"
