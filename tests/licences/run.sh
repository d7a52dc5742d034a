#!/usr/bin/env bash
# Licences, sources and doubles of every dependency, of the program and of the Python module; by cargo-deny too where it
# is installed, and then known weaknesses as well where its database can be had.
set -euo pipefail
cd "$(dirname "$0")/../.."
python3 tests/licences/check.py
if ! command -v cargo-deny >/dev/null; then
    echo "licences: no cargo-deny here (cargo install --locked cargo-deny): held by check.py alone"
    exit
fi
checks=(bans licenses sources)
if timeout 120 cargo deny --log-level off fetch db; then
    checks+=(advisories)
else
    echo "licences: the database of advisories is out of reach: not checked"
fi
for manifest in Cargo.toml python/Cargo.toml; do
    cargo deny --log-level error --manifest-path "$manifest" --locked --config deny.toml check "${checks[@]}"
    echo "licences: $manifest: cargo-deny: ${checks[*]} ok"
done
