"""What one worker does with a few objects; the engine around it (Spark, Dask) decides who does which and when.

Three tables come out, all keyed by the content's SHA-256 and the identity of version, tables, settings and product:

findings   one row a compound, the columns of `lees check --rows findings`
spectra    one row a spectrum, the columns of `lees check --rows spectra`
poisoned   one row an object that could not be checked, with the reason
"""

import hashlib

import fsspec
import lees
import pyarrow as pa

TABLES = ("findings", "spectra", "poisoned")
KINDS = {"text": pa.string(), "number": pa.float64(), "count": pa.int64()}
POISONED = pa.schema([("path", pa.string()), ("sha256", pa.string()), ("identity", pa.string()), ("error", pa.string())])
CONTENTS = pa.schema([("path", pa.string()), ("sha256", pa.string()), ("error", pa.string())])


def schema(table):
    """Arrow schema of a table, units in the column metadata."""
    if table == "poisoned":
        return POISONED
    fields = [
        pa.field(name, KINDS[kind], metadata={"unit": unit, "about": about})
        for name, kind, unit, about in lees.columns(table)
    ]
    return pa.schema([*fields, pa.field("identity", pa.string())])


def load(url):
    """The bytes of an object on any store fsspec knows (s3://, gs://, abfs://, a path)."""
    with fsspec.open(url, "rb") as file:
        return file.read()


def contents(urls):
    """Path and content hash of each object; an object that cannot be read has a reason instead of a hash."""
    rows = []
    for url in urls:
        try:
            rows.append({"path": url, "sha256": hashlib.sha256(load(url)).hexdigest(), "error": None})
        except Exception as fault:
            rows.append({"path": url, "sha256": None, "error": f"{url}: cannot read: {type(fault).__name__}"})
    return rows


def check(url, checker, identity):
    """The rows of one object, by table. One that cannot be checked costs one row, never the task."""
    rows = {table: [] for table in TABLES}
    digest = None
    try:
        data = load(url)
        digest = hashlib.sha256(data).hexdigest()
        for result in checker.check(data, name=url, errors="return"):
            if isinstance(result, lees.Error):
                rows["poisoned"].append({"path": url, "sha256": digest, "error": str(result)})
            else:
                rows["findings"].extend(result.findings())
                rows["spectra"].append(result.row())
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as fault:  # a fault of the program itself arrives as a PanicException, which is no Exception
        rows["poisoned"].append({"path": url, "sha256": digest, "error": str(fault)})
    for table in TABLES:
        for row in rows[table]:
            row["identity"] = identity
    return rows
