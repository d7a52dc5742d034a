"""The same table, read by five readers that know nothing of this project, must be the same table."""

import filecmp
import json
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


def columns(frame):
    """Columns of a data frame; None for everything that it uses to say that nothing is known."""
    kept = {name: frame[name].astype(object) for name in frame}
    return {name: column.where(column.notna(), None).tolist() for name, column in kept.items()}


def of_rows(names, rows):
    return dict(zip(names, map(list, zip(*rows, strict=True)), strict=True))


def disarmed(text):
    return "'" + text if isinstance(text, str) and text.lstrip(" ").startswith(FORMULA_STARTS) else text


def read_lines(path):
    rows = [json.loads(line) for line in path.read_text("utf-8").splitlines()]
    names = list(rows[0])
    assert all(list(row) == names for row in rows), (path, "columns")
    return of_rows(names, [row.values() for row in rows])


def same(got, wanted, what):
    """Whether two tables, as lists by column, are alike; the first cells that differ are named."""
    assert list(got) == list(wanted), (what, list(got), list(wanted))
    for name, column in wanted.items():
        if got[name] != column:
            assert len(got[name]) == len(column), (what, name, len(got[name]), len(column))
            differing = ((k, *pair) for k, pair in enumerate(zip(got[name], column)) if pair[0] != pair[1])
            raise AssertionError((what, name, next(differing)))


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
    count = len(wanted["path"])
    assert count > 5000
    assert any(None in column for column in wanted.values())
    harmless = {name: [disarmed(cell) for cell in column] for name, column in wanted.items()}

    table = pyarrow.parquet.read_table(folder / f"{kind}.parquet")
    same(table.to_pydict(), wanted, "pyarrow parquet")
    same(pyarrow.feather.read_table(folder / f"{kind}.arrow").to_pydict(), wanted, "pyarrow arrow")
    same(columns(pandas.read_parquet(folder / f"{kind}.parquet")), wanted, "pandas parquet")

    text = {name: str for name, value in text_columns(table.schema)}
    for ending, separator in (("csv", ","), ("tsv", "\t")):
        frame = pandas.read_csv(
            folder / f"{kind}.{ending}", sep=separator, dtype=text, keep_default_na=False, na_values=[""],
            float_precision="round_trip",
        )
        same(columns(frame), harmless, f"pandas {ending}")

    relation = duckdb.sql(f"select * from read_parquet('{folder / kind}.parquet')")
    same(of_rows(relation.columns, relation.fetchall()), wanted, "duckdb parquet")
    relation = duckdb.sql(f"select * from read_csv('{folder / kind}.csv', types = {duck_types(table.schema)})")
    same(of_rows(relation.columns, relation.fetchall()), harmless, "duckdb csv")
    return count


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
