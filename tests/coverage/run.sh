#!/usr/bin/env bash
# Line coverage of the library crates by the Rust tests: a table by crate and the files that are lowest.
#
# usage: run.sh [--libraries]   (only the tests of the library crates; else those of the program too)
# Needs cargo-llvm-cov, and llvm-cov and llvm-profdata of the compiler's LLVM: rustup's llvm-tools, or those of the
# distribution (Debian: llvm-22) named by LLVM_COV and LLVM_PROFDATA. Takes some 20 minutes on two cores.
set -euo pipefail
cd "$(dirname "$0")/../.."
llvm=$(rustc -vV | sed -n 's/^LLVM version: \([0-9]*\).*/\1/p')
for tool in cov profdata; do
    name="LLVM_${tool^^}"
    if [ -z "${!name:-}" ] && found=$(command -v "llvm-$tool-$llvm"); then
        export "$name=$found"
    fi
done
libraries=(lees-core lees-fourier lees-format lees-spin lees-process lees-match lees-report lees)
packages=()
for library in "${libraries[@]}"; do packages+=(--package "$library"); done
[ "${1:-}" = --libraries ] || packages+=(--package lees-cli)
lines=$(mktemp)
trap 'rm -f "$lines"' EXIT
cargo llvm-cov clean --workspace
cargo llvm-cov test --jobs 2 --locked --no-report "${packages[@]}"
cargo llvm-cov report --lcov --output-path "$lines"
python3 tests/coverage/table.py "$lines"
