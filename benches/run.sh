#!/bin/sh
# Whole checks beside the floor and beside the same job scripted in Python (numpy, scipy, pybaselines, jcamp from PyPI, in a
# virtual environment of its own), all measured in one run. LEES_BENCH_ROUNDS and LEES_BENCH_FILES set how often.
set -eu
cd "$(dirname "$0")/.."
target="${CARGO_TARGET_DIR:-target}"
environment="$target/python-benches"
[ -x "$environment/bin/python" ] || python3 -m venv "$environment"
"$environment/bin/python" -c "import jcamp, numpy, pybaselines, scipy" 2>/dev/null ||
    "$environment/bin/pip" install --quiet -r benches/requirements.txt
cargo build --quiet --release -p lees-cli
ratios=$(cargo bench --no-run -p lees --bench ratios 2>&1 | sed -n 's/.*(\(.*\)).*/\1/p' | tail -1)
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 \
    exec "$environment/bin/python" benches/scripted.py "$ratios" "$target/release/lees" "$target/bench-batch"
