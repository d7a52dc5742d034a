"""Checks an archive on Dask: the light way, for one machine or a few.

    python dask_archive.py --listing listing.csv --product dye.toml --out archive/ [--scheduler tcp://...]

Same tables and same promise as spark_archive.py: content that is in the tables already is not checked again. Each
partition writes its own files, aside first and then under a name made from what is in them, so that a partition run
twice writes the same files twice.
"""

import argparse
import csv
import hashlib
import os
from pathlib import Path

import dask.bag
import lees
import lees_archive as archive
import pyarrow as pa
import pyarrow.dataset
import pyarrow.parquet
from distributed import Client, LocalCluster

OBJECTS_A_PARTITION = 500


def check_partition(urls, product, settings, out):
    """Checks a partition and writes its files; gives how many objects it dealt with."""
    urls = list(urls)
    checker = lees.Checker(product, **settings)
    tables = {table: [] for table in archive.TABLES}
    for url in urls:
        for table, rows in archive.check(url, checker, checker.identity).items():
            tables[table].extend(rows)
    name = hashlib.sha256("\n".join([checker.identity, *urls]).encode()).hexdigest()[:32]
    for table, rows in tables.items():
        if rows:
            store(pa.Table.from_pylist(rows, archive.schema(table)), Path(out) / table / f"{name}.parquet")
    return [len(urls)]


def store(table, path):
    path.parent.mkdir(parents=True, exist_ok=True)
    aside = path.with_suffix(".part")
    pa.parquet.write_table(table, aside)
    os.replace(aside, path)


def done(out, identity):
    """Hashes of content that is dealt with already."""
    hashes = set()
    for table in ("spectra", "poisoned"):
        if (Path(out) / table).exists():
            rows = pa.dataset.dataset(Path(out) / table, exclude_invalid_files=True)
            rows = rows.to_table(columns=["sha256"], filter=pa.dataset.field("identity") == identity)
            hashes.update(rows.column("sha256").to_pylist())
    return hashes


def run(listing, product, out, settings):
    with open(listing, newline="") as file:
        urls = [row["path"] for row in csv.DictReader(file)]
    bag = dask.bag.from_sequence(urls, partition_size=OBJECTS_A_PARTITION)
    contents = bag.map_partitions(archive.contents).compute()
    seen = done(out, lees.Checker(product, **settings).identity)
    fresh = {row["sha256"]: row["path"] for row in reversed(contents) if row["sha256"] and row["sha256"] not in seen}
    checked = 0
    if fresh:
        bag = dask.bag.from_sequence(sorted(fresh.values()), partition_size=OBJECTS_A_PARTITION)
        checked = sum(bag.map_partitions(check_partition, product, settings, out).compute())
    store(pa.Table.from_pylist(contents, archive.CONTENTS), Path(out) / "contents" / "contents.parquet")
    unreadable = sum(row["sha256"] is None for row in contents)
    print(f"dask: {len(urls)} objects listed, {checked} contents checked, {unreadable} objects unreadable")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--listing", required=True)
    parser.add_argument("--product", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--limits")
    parser.add_argument("--scheduler", help="address of a running Dask; without it one is started here")
    args = parser.parse_args()
    settings = {"limits": args.limits} if args.limits else {}
    with Client(args.scheduler or LocalCluster(threads_per_worker=1, dashboard_address=None)):
        run(args.listing, Path(args.product).read_text(), args.out, settings)


if __name__ == "__main__":
    main()
