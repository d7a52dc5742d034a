#!/bin/sh
# Builds the fuzz targets with a stable compiler and runs them one after another.
#   fuzz/run.sh [SECONDS] [TARGET...]
# `cargo fuzz run TARGET --sanitizer none` on a nightly compiler does the same; here the coverage passes are asked of
# the compiler directly, so that no nightly is needed. Finds go to fuzz/artifacts, grown inputs to fuzz/corpus.
set -eu
cd "$(dirname "$0")"
seconds=${1:-600}
[ $# -gt 0 ] && shift
targets=${*:-jcamp text archive journal product check}
host=$(rustc -vV | sed -n 's/^host: //p')
passes="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-trace-compares"
passes="$passes -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table"
export RUSTFLAGS="--cfg fuzzing -Ccodegen-units=1 -Cdebug-assertions $passes"
cargo build --release --target "$host"
built=${CARGO_TARGET_DIR:-target}/$host/release
for target in $targets; do
    mkdir -p "corpus/$target" "artifacts/$target"
    limits="-rss_limit_mb=256 -timeout=1"
    seeds="seeds/$target"
    if [ "$target" = check ]; then
        # Not only reading: the tables, and a fit of all that a spectrum may hold, twice.
        limits="-rss_limit_mb=512 -timeout=10"
        seeds="$seeds seeds/jcamp seeds/text seeds/archive"
    fi
    # shellcheck disable=SC2086
    "$built/$target" "corpus/$target" $seeds $limits -max_total_time="$seconds" \
        -artifact_prefix="artifacts/$target/" -print_final_stats=1 -max_len=8192
done
