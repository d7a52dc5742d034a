"""Checks an archive on Apache Spark: listing of objects in, Parquet of findings out.

    spark-submit spark_archive.py --listing listing.csv --product dye.toml --out archive/

The listing is a CSV with a column `path`. Run it again at any time: content that is in the tables already, under the
same version, tables, settings and product, is not checked again. Spark does all scheduling, retrying and committing.
"""

import argparse
from pathlib import Path

import lees
import lees_archive as archive
import pyarrow as pa
from pyspark.sql import SparkSession
from pyspark.sql.pandas.types import from_arrow_schema
from pyspark.sql.utils import AnalysisException

# Objects a task checks: some minutes of work, so that a lost task costs little and starting one costs nothing.
OBJECTS_A_TASK = 2000


def hash_batches(batches):
    """mapInArrow: paths to paths with content hashes."""
    for batch in batches:
        yield pa.RecordBatch.from_pylist(archive.contents(batch.column("path").to_pylist()), archive.CONTENTS)


def checking(product, settings):
    """mapInArrow: paths to rows of all three tables, told apart by the column `part`."""

    def check_batches(batches):
        checker = lees.Checker(product, **settings)
        wide = wide_schema()
        for batch in batches:
            for url in batch.column("path").to_pylist():
                tables = archive.check(url, checker, checker.identity)
                rows = [{"part": table, **row} for table in archive.TABLES for row in tables[table]]
                yield pa.RecordBatch.from_pylist(rows, wide)

    return check_batches


def wide_schema():
    """One schema that holds the rows of every table."""
    fields = {"part": pa.field("part", pa.string())}
    for table in archive.TABLES:
        for field in archive.schema(table):
            fields.setdefault(field.name, field.remove_metadata())
    return pa.schema(list(fields.values()))


def done(spark, out, identity):
    """Hashes of content that is dealt with already."""
    tables = []
    for table in ("spectra", "poisoned"):
        try:
            frame = spark.read.parquet(f"{out}/{table}")
        except AnalysisException:
            continue
        tables.append(frame.filter((frame.identity == identity) & frame.sha256.isNotNull()).select("sha256"))
    return tables


def write(frame, table, out):
    """Appends the rows of one table; Spark's committer makes them appear together or not at all."""
    names = archive.schema(table).names
    frame.filter(frame.part == table).select(*names).write.mode("append").parquet(f"{out}/{table}")


def run(spark, listing, product, out, settings):
    identity = lees.Checker(product, **settings).identity
    paths = spark.read.csv(listing, header=True).select("path")
    count = paths.count()
    tasks = max(spark.sparkContext.defaultParallelism, -(-count // OBJECTS_A_TASK))
    contents = paths.repartition(tasks).mapInArrow(hash_batches, from_arrow_schema(archive.CONTENTS)).cache()
    fresh = contents.filter(contents.sha256.isNotNull()).dropDuplicates(["sha256"])
    for known in done(spark, out, identity):
        fresh = fresh.join(known, "sha256", "left_anti")
    fresh = fresh.select("path").repartition(tasks)
    # Worked out once and kept on disk: three tables are cut from it, and what they hold by then must not feed back.
    spark.sparkContext.setCheckpointDir(f"{out}/checkpoint")
    rows = fresh.mapInArrow(checking(product, settings), from_arrow_schema(wide_schema())).checkpoint()
    for table in archive.TABLES:
        write(rows, table, out)
    contents.write.mode("overwrite").parquet(f"{out}/contents")
    checked = rows.filter(rows.part != "findings").select("sha256").distinct().count()
    unreadable = contents.filter(contents.sha256.isNull()).count()
    print(f"spark: {count} objects listed, {checked} contents checked, {unreadable} objects unreadable")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--listing", required=True)
    parser.add_argument("--product", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--limits")
    args = parser.parse_args()
    settings = {"limits": args.limits} if args.limits else {}
    spark = SparkSession.builder.appName("lees archive").getOrCreate()
    spark.sparkContext.addPyFile(archive.__file__)
    run(spark, args.listing, Path(args.product).read_text(), args.out, settings)
    spark.stop()


if __name__ == "__main__":
    main()
