"""Reads the tables of a batch with pandas, Polars and DuckDB and compares them with each other, with the
reports of each clip and with the printed schema.

    read_back.py OUT SCHEMA     OUT: a folder that `scaplane batch` wrote; SCHEMA: `scaplane schema tables`
"""
import json
import math
import pathlib
import sys

import duckdb
import pandas
import polars

out, schema = pathlib.Path(sys.argv[1]), json.loads(pathlib.Path(sys.argv[2]).read_text())
FIELDS = {table["name"]: table["schema"]["fields"] for table in schema["resources"]}
PARQUET = {"integer": "BIGINT", "number": "DOUBLE", "string": "VARCHAR", "boolean": "BOOLEAN"}


def plain(rows):
    """Rows as tuples with None for whatever a tool takes for missing."""
    return [tuple(None if v is None or v is pandas.NA or v is pandas.NaT
                  or (isinstance(v, float) and math.isnan(v)) else v for v in row) for row in rows]


read = 0
for name in ["reps.parquet", "readings.parquet"]:
    fields = FIELDS[name]
    by_duck = duckdb.sql(f"select * from read_parquet('{out / name}')")
    by_polars = polars.read_parquet(out / name)
    by_pandas = pandas.read_parquet(out / name)
    names = [field["name"] for field in fields]
    assert by_duck.columns == names and by_polars.columns == names and list(by_pandas.columns) == names
    assert [str(t) for t in by_duck.types] == [PARQUET[field["type"]] for field in fields], name
    rows = plain(by_duck.fetchall())
    assert rows and plain(by_polars.rows()) == rows
    assert plain(by_pandas.astype(object).itertuples(index=False, name=None)) == rows
    for field, column in zip(fields, zip(*rows)):
        if field["constraints"]["required"]:
            assert None not in column, (name, field["name"])
    read += 1
    print(f"{name}: {len(rows)} rows, {len(fields)} columns")

# The CSV holds the same rows as the Parquet.
text = [field["name"] for field in FIELDS["reps.csv"] if field["type"] == "string"]
by_csv = {
    "pandas": pandas.read_csv(out / "reps.csv", dtype={name: "object" for name in text}, keep_default_na=False, na_values=[""],
                              float_precision="round_trip").astype(object).itertuples(index=False, name=None),
    "polars": polars.read_csv(out / "reps.csv", schema={
        field["name"]: {"integer": polars.Int64, "number": polars.Float64, "string": polars.String,
                        "boolean": polars.Boolean}[field["type"]] for field in FIELDS["reps.csv"]}).rows(),
    "duckdb": duckdb.read_csv(str(out / "reps.csv"), dtype={
        field["name"]: PARQUET[field["type"]] for field in FIELDS["reps.csv"]}).fetchall(),
}
whole = plain(duckdb.sql(f"select * from read_parquet('{out / 'reps.parquet'}')").fetchall())
for tool, rows in by_csv.items():
    rows = plain(rows)
    assert len(rows) == len(whole), tool
    for mine, other in zip(rows, whole):
        for field, a, b in zip(FIELDS["reps.csv"], mine, other):
            assert a == b, (tool, field["name"], a, b)
read += 1

# The numbers are those of each clip's review.json, and every absence has its reason.
batch = pandas.read_csv(out / "batch.csv")
assert list(batch.columns) == [field["name"] for field in FIELDS["batch.csv"]]
reps = pandas.read_parquet(out / "reps.parquet")
readings = pandas.read_parquet(out / "readings.parquet")
values = absences = 0
for _, row in batch.iterrows():
    review = json.loads((out / row["folder"] / "review.json").read_text())
    wide = reps[(reps.clip_number == row["clip_number"]) & (reps.side == row["side"])]
    long = readings[(readings.clip_number == row["clip_number"]) & (readings.side == row["side"])]
    assert len(wide) == len(review["reps"]) == row["reps"]
    for rep in review["reps"]:
        w = wide[wide.rep == rep["number"]].iloc[0]
        here = long[long.rep == rep["number"]].set_index("measure")
        assert set(here.index) == set(rep["readings"]) and w["verdict"] == rep["verdict"]
        for measure, reading in rep["readings"].items():
            stem = measure.replace("-", "_")
            column = stem if reading["unit"] == "1" else f"{stem}_{reading['unit']}"
            if reading["value"] is None:
                assert pandas.isna(w[column]) and w[f"{stem}_why"] == reading["why"]["code"] == here.loc[measure, "why"]
                absences += 1
            else:
                assert w[column] == reading["value"] == here.loc[measure, "value"]
                assert w[f"{column}_low"] == reading["low"] and w[f"{column}_high"] == reading["high"]
                assert pandas.isna(w[f"{stem}_why"])
                values += 1
        for found in rep["findings"]:
            assert here.loc[found["measure"], "verdict"] == found["verdict"]
            if found["margin"] is not None:
                assert abs(here.loc[found["measure"], "margin"] - found["margin"]) < 1e-3
read += 1
assert values > 50 and absences > 10, (values, absences)
print(f"{values} values and {absences} absences as in review.json")
print(f"{read} tables read by 3 tools: pandas {pandas.__version__}, Polars {polars.__version__}, DuckDB {duckdb.__version__}")
