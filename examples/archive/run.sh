#!/usr/bin/env bash
# The archive example on a small set: Spark in local-cluster mode and Dask, compared with the command line.
#
# LEES_BIN: the program; LEES_WHEEL: the built Python wheel (both built when not given).
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cd "$here/../.."
target=$(realpath -m "${CARGO_TARGET_DIR:-target}")
. tests/program.sh
venv="$target/venv-archive"
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install -q -r examples/archive/requirements.txt
LEES_WHEEL=${LEES_WHEEL:-$(tests/python/wheel.sh)}
"$venv/bin/pip" install -q --force-reinstall --no-deps "$LEES_WHEEL"

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
python3 tests/batch/make.py "$folder" 24
# A copy, two poisoned objects, and one that is listed but not there.
cp "$folder/rack/00003.jdx" "$folder/rack/copy.jdx"
head -c 900 "$folder/rack/00004.jdx" >"$folder/rack/cut.jdx"
printf 'no spectrum at all\n' >"$folder/rack/words.jdx"
(echo path; ls "$folder/rack" | head -20 | sed "s|^|$folder/rack/|"; echo "$folder/rack/none.jdx") >"$folder/first.csv"
(echo path; ls "$folder/rack" | sed "s|^|$folder/rack/|"; echo "$folder/rack/none.jdx") >"$folder/listing.csv"
for rows in findings spectra; do
    "$LEES_BIN" check "$folder/rack" --product "$folder/dye.toml" -o "$folder/$rows.parquet" --rows $rows 2>/dev/null || [ $? = 1 ]
done

export PYSPARK_PYTHON="$venv/bin/python" PYSPARK_DRIVER_PYTHON="$venv/bin/python" PYTHONPATH="$here"
# Runs as short as these end before optimised code has paid for being made.
export JAVA_TOOL_OPTIONS="-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"
spark() {
    "$venv/bin/spark-submit" --master 'local-cluster[2,1,1024]' --conf spark.ui.enabled=false \
        --conf spark.sql.shuffle.partitions=2 --conf spark.log.level=ERROR \
        "$here/spark_archive.py" --product "$folder/dye.toml" --out "$folder/$1" --listing "$2" 2>"$folder/spark.log" |
        grep '^spark:' || { tail -40 "$folder/spark.log" >&2; return 1; }
}
dask() { "$venv/bin/python" "$here/dask_archive.py" --product "$folder/dye.toml" --out "$folder/$1" --listing "$2"; }

for engine in spark dask; do
    $engine "by-$engine" "$folder/first.csv"
    $engine "by-$engine" "$folder/listing.csv"
    again=$($engine "by-$engine" "$folder/listing.csv")
    echo "$again"
    grep -q ' 0 contents checked' <<<"$again"
    "$venv/bin/python" "$here/compare.py" "$folder/by-$engine" "$folder/findings.parquet" "$folder/spectra.parquet"
done
