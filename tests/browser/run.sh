#!/usr/bin/env bash
# The report page in headless Chromium: installs what it needs, makes the pages, runs the test.
#
# LEES_EXAMPLES: the folder of the built examples (built when not given).
set -euo pipefail
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

if ! command -v chromium >/dev/null; then
  apt-get update -qq
  apt-get install -y -qq --no-install-recommends chromium
fi
cp tests/browser/package.json tests/browser/*.mjs "$work"
npm install --prefix "$work" --no-audit --no-fund --no-package-lock --silent
mkdir "$work/pages"
if [ -n "${LEES_EXAMPLES:-}" ]; then
  "$LEES_EXAMPLES/pages" "$work/pages"
else
  cargo run --quiet --package lees-report --example pages -- "$work/pages"
fi
LEES_PAGES="$work/pages" node --test --test-concurrency=1 "$work/page.test.mjs"
