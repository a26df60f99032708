#!/usr/bin/env python3
"""Puts the tables of the shares of a batch together, and makes sure that no clip is lost or doubled.

    collect.py MANIFEST PARTS OUT     PARTS: a folder with one output folder for each share

In: the folders that `scaplane batch MANIFEST --shard K/N --out PARTS/...` wrote. Out: batch.csv, reps.csv,
failures.csv, reps.parquet and readings.parquet of the whole list, in its order. Needs pyarrow.
"""
import csv
import os
import pathlib
import sys

import pyarrow
import pyarrow.compute
import pyarrow.parquet

CSV = ["batch.csv", "reps.csv", "failures.csv"]
PARQUET = ["reps.parquet", "readings.parquet"]


class Incomplete(Exception):
    """The parts are not the whole."""


def clips_of(manifest):
    """Number of clips in a manifest: its rows that are not empty."""
    text = pathlib.Path(manifest).read_text(encoding="utf-8-sig")
    head = text.splitlines()[0]
    mark = max("\t;,", key=head.count)
    return sum(1 for row in csv.reader(text.splitlines(), delimiter=mark) if row) - 1


def replaced(path, write):
    """Writes a file under another name first, so that it is whole or not there."""
    waiting = path.with_name(f".{path.name}.tmp")
    write(waiting)
    os.replace(waiting, path)


def rows_of(parts, name):
    """Head and rows of a CSV table of all parts, in the order of the whole list."""
    heads, rows = set(), []
    for part in parts:
        with open(part / name, newline="", encoding="utf-8") as file:
            table = csv.reader(file)
            head = tuple(next(table))
            heads.add(head)
            where = head.index("folder") if "folder" in head else None
            for row in table:
                if where is not None:
                    row[where] = f"{part.parent.name}/{part.name}/{row[where]}"
                rows.append(row)
    if len(heads) != 1:
        raise Incomplete(f"{name}: the parts have different columns; were they made by one version?")
    # Stable: within a clip the order of its part.
    return heads.pop(), sorted(rows, key=lambda row: int(row[0]))


def check(manifest, results, failures):
    """Every clip is either done or failed, and no result is there twice."""
    done = [(int(row[0]), row[5]) for row in results]
    failed = [int(row[0]) for row in failures]
    wanted = set(range(1, clips_of(manifest) + 1))
    there = {number for number, _ in done} | set(failed)
    if len(set(done)) != len(done) or len(set(failed)) != len(failed) or {n for n, _ in done} & set(failed):
        raise Incomplete("a clip is in two parts: leave one of the overlapping folders out")
    if there != wanted:
        missing = sorted(wanted - there)[:10]
        raise Incomplete(f"{len(wanted - there)} clips are in no part, the first {missing}; run their shares again "
                         f"with --resume; {len(there - wanted)} are not in the manifest")


def collect(manifest, parts_folder, out):
    """Writes the tables of the whole list."""
    out = pathlib.Path(out)
    parts = sorted(path.parent for path in pathlib.Path(parts_folder).glob("*/batch.csv"))
    if not parts:
        raise Incomplete(f"{parts_folder}: no finished part is there")
    tables = {name: rows_of(parts, name) for name in CSV}
    check(manifest, tables["batch.csv"][1], tables["failures.csv"][1])
    out.mkdir(parents=True, exist_ok=True)

    def write_csv(path, head, rows):
        with open(path, "w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(head)
            writer.writerows(rows)

    for name, (head, rows) in tables.items():
        replaced(out / name, lambda path, head=head, rows=rows: write_csv(path, head, rows))
    for name in PARQUET:
        table = pyarrow.concat_tables([pyarrow.parquet.read_table(part / name) for part in parts])
        order = sorted(range(len(table)), key=table.column("clip_number").to_pylist().__getitem__)
        table = table.take(pyarrow.array(order, pyarrow.int64()))
        replaced(out / name, lambda path, table=table: pyarrow.parquet.write_table(table, path))
    return len(tables["batch.csv"][1]), len(tables["failures.csv"][1])


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    try:
        results, failures = collect(*sys.argv[1:])
    except Incomplete as problem:
        sys.exit(f"error: {problem}")
    print(f"{results} results, {failures} failures")
