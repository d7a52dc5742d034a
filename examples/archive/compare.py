"""Holds what an engine wrote to what the command line writes, row by row and value by value.

usage: compare.py ARCHIVE FINDINGS.parquet SPECTRA.parquet   (the latter two by `lees check -o`)
"""

import sys
from pathlib import Path

import pyarrow.dataset as ds
import pyarrow.parquet as pq

# Of two objects with the same content an engine checks one: the name may be the other's.
BY_NAME = ("path", "identity")


def rows(path):
    table = ds.dataset(path, exclude_invalid_files=True).to_table() if Path(path).is_dir() else pq.read_table(path)
    keep = [name for name in table.column_names if name not in BY_NAME]
    seen = [tuple(row[name] for name in keep) for row in table.to_pylist()]
    return keep, sorted(seen, key=repr)


def main():
    archive, findings, spectra = sys.argv[1:4]
    failed = {row["sha256"] for row in pq.read_table(spectra).to_pylist() if row["error"] and row["sha256"]}
    for table, wanted in (("findings", findings), ("spectra", spectra)):
        names, got = rows(f"{archive}/{table}")
        other, want = rows(wanted)
        assert names == other, (names, other)
        if table == "spectra":
            at = names.index("error")
            want = [row for row in want if row[at] is None]
        want = sorted(set(want), key=repr)
        assert len(got) == len(set(got)), f"{table}: {len(got) - len(set(got))} rows twice"
        assert got == want, f"{table}: {set(got) ^ set(want)}"
        print(f"{archive}: {len(got)} rows of {table} as the command line has them")
    place = Path(archive) / "poisoned"
    poisoned = ds.dataset(place, exclude_invalid_files=True).to_table().to_pylist() if place.exists() else []
    assert {row["sha256"] for row in poisoned} == failed, (poisoned, failed)
    assert all(row["error"] for row in poisoned)
    print(f"{archive}: {len(poisoned)} poisoned objects, the same as the command line's failures")


main()
