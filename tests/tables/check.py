"""The same table, read by five readers that know nothing of this project, must be the same table."""

import filecmp
import json
import math
import sys
from pathlib import Path

import duckdb
import pandas
import pyarrow.feather
import pyarrow.ipc
import pyarrow.parquet

UNITS = {
    "findings": {"wt_percent": "wt%", "molar_mass": "g/mol", "mole_ratio": "mol/mol", "drying_hours": "h"},
    "spectra": {"field_mhz": "MHz", "total_wt_percent": "wt%", "mass_g": "g", "points": "1"},
}
FORMULA_STARTS = tuple("=+-@\t\r")


def known(value):
    """None for everything a reader may use to say that nothing is known."""
    if value is None or value is pandas.NA:
        return None
    return None if isinstance(value, float) and math.isnan(value) else value


def rows(frame):
    return [{key: known(value) for key, value in row.items()} for row in frame.to_dict("records")]


def disarmed(text):
    return "'" + text if isinstance(text, str) and text.lstrip(" ").startswith(FORMULA_STARTS) else text


def read_lines(path):
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def same(got, wanted, what, change=lambda value: value):
    assert len(got) == len(wanted), (what, len(got), len(wanted))
    for index, (a, b) in enumerate(zip(got, wanted)):
        assert list(a) == list(b), (what, index)
        for key in a:
            left, right = a[key], change(b[key])
            assert left == right, (what, index, key, left, right)


def check_units(kind, folder):
    schema = pyarrow.parquet.read_schema(folder / f"{kind}.parquet")
    with pyarrow.ipc.open_file(folder / f"{kind}.arrow") as file:
        schemas = {"parquet": schema, "arrow": file.schema}
    for name, schema in schemas.items():
        assert schema.metadata[b"schema"] == f"lees/{kind}/1".encode(), name
        for column, unit in UNITS[kind].items():
            assert schema.field(column).metadata[b"unit"] == unit.encode(), (name, column)
        for field in schema:
            words = pyarrow.types.is_string(field.type)
            assert words == (field.metadata[b"unit"] == b""), (name, field.name)
            assert field.metadata[b"about"], (name, field.name)
    metadata = duckdb.sql(f"select key, value from parquet_kv_metadata('{folder / kind}.parquet')").fetchall()
    units = json.loads(dict((bytes(k), bytes(v)) for k, v in metadata)[b"units"])
    assert units.items() >= UNITS[kind].items(), units


def check_kind(kind, folder):
    wanted = read_lines(folder / f"{kind}.jsonl")
    assert len(wanted) > 5000
    assert any(value is None for row in wanted for value in row.values())

    table = pyarrow.parquet.read_table(folder / f"{kind}.parquet")
    same(table.to_pylist(), wanted, "pyarrow parquet")
    same(pyarrow.feather.read_table(folder / f"{kind}.arrow").to_pylist(), wanted, "pyarrow arrow")
    same(rows(pandas.read_parquet(folder / f"{kind}.parquet")), wanted, "pandas parquet")

    text = {name: str for name, value in text_columns(table.schema)}
    for ending, separator in (("csv", ","), ("tsv", "\t")):
        frame = pandas.read_csv(
            folder / f"{kind}.{ending}", sep=separator, dtype=text, keep_default_na=False, na_values=[""],
            float_precision="round_trip",
        )
        same(rows(frame), wanted, f"pandas {ending}", disarmed)

    relation = duckdb.sql(f"select * from read_parquet('{folder / kind}.parquet')")
    same([dict(zip(relation.columns, row)) for row in relation.fetchall()], wanted, "duckdb parquet")
    relation = duckdb.sql(f"select * from read_csv('{folder / kind}.csv', types = {duck_types(table.schema)})")
    same([dict(zip(relation.columns, row)) for row in relation.fetchall()], wanted, "duckdb csv", disarmed)
    return len(wanted)


def text_columns(schema):
    return [(field.name, field.type) for field in schema if pyarrow.types.is_string(field.type)]


def duck_types(schema):
    names = {"string": "VARCHAR", "double": "DOUBLE", "int64": "BIGINT"}
    return {field.name: names[str(field.type)] for field in schema}


def check_awkward(folder):
    """The formula, the separators, the quote, the other script and the escape sequence of the fixture."""
    titles = set(pandas.read_parquet(folder / "spectra.parquet")["title"].dropna())
    assert titles == {'=HYPERLINK("x")', "a,b; c", 'quote " here', "染料 [31m", "plain"}, titles
    cells = pandas.read_csv(folder / "spectra.csv", dtype=str)
    starts = {str(cell)[0] for name in text_names(folder) for cell in cells[name].dropna()}
    assert not starts & set(FORMULA_STARTS), starts


def text_names(folder):
    return [name for name, _ in text_columns(pyarrow.parquet.read_schema(folder / "spectra.parquet"))]


def main():
    once, twice = map(Path, sys.argv[1:3])
    for path in sorted(once.iterdir()):
        assert filecmp.cmp(path, twice / path.name, shallow=False), f"{path.name} differs between two processes"
    for kind in UNITS:
        count = check_kind(kind, once)
        check_units(kind, once)
        print(f"tables: {kind}: {count} rows alike in csv, tsv, jsonl, parquet and arrow by pandas, pyarrow and duckdb")
    check_awkward(once)


main()
