# Sourced by the checks that need the program, from the top of the project: the one that LEES_BIN names, or built in release.
if [ -z "${LEES_BIN:-}" ]; then
    cargo build -q --release -p lees-cli
    LEES_BIN="${CARGO_TARGET_DIR:-target}/release/lees"
fi
export LEES_BIN
