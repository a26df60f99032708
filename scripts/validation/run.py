#!/usr/bin/env python3
"""Makes the validation page and its tables. Started by scripts/validate.

Written to the folder: readings.csv (a row a repetition and measure: truth, value, interval or reason), counts.csv (a row
a clip), figures.csv (agreement by measure, track and noise), figures.md (the table for the README), validation.html.
"""
import argparse
import json
import os
import pathlib
import sys

import pandas

import estimator
import figures
import open_data
import page
import program
import published
import simulated

ROOT = pathlib.Path(__file__).resolve().parents[2]
#: Seeds from here on are used nowhere else: no constant of the program was chosen by them.
FIRST_SEED = 71001
PARTS = ("simulation", "published", "open-data", "estimator")


def tell(words):
    """Progress."""
    print(words, file=sys.stderr, flush=True)


def gather(args):
    """Everything measured, as plain tables."""
    parts = [part for part in PARTS if part not in args.left_out]
    readings, counts, found = [], [], {}
    if "simulation" in parts:
        readings, counts = simulated.every(simulated.plan(args.first_seed, args.seeds, args.exercises), args.jobs, tell)
    if "published" in parts:
        tell("published curves")
        found["published"] = published.every(ROOT / "models" / "references.csv", args.first_seed)
    if "open-data" in parts:
        tell("open data")
        found["open_data"] = open_data.every(pathlib.Path(os.environ.get("SCAPLANE_OPEN_DATA", ROOT / ".." / "shared" / "data")))
    if "estimator" in parts:
        seen = estimator.every(args.first_seed, tell)
        if seen:
            readings += seen[0]
            counts += seen[1]
    return pandas.DataFrame(readings, columns=simulated.COLUMNS), pandas.DataFrame(counts), found


def main():
    """Reads the arguments, gathers or reads the rows, and writes the folder."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=10, help="seeds of the simulation (default 10)")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED, help=f"first of them (default {FIRST_SEED})")
    parser.add_argument("--exercises", nargs="+", metavar="ID", help="of these exercises only")
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="clips at a time")
    parser.add_argument("--out", type=pathlib.Path, default=pathlib.Path("out/validation"))
    parser.add_argument("--left-out", nargs="*", choices=PARTS, default=[], help="parts that are not run")
    parser.add_argument("--from-tables", action="store_true", help="draw the page from the tables that lie in the folder")
    args = parser.parse_args()
    if args.seeds < 1:
        parser.error("--seeds needs at least 1")
    args.out.mkdir(parents=True, exist_ok=True)
    beside = args.out / "others.json"
    if args.from_tables:
        readings, counts = (pandas.read_csv(args.out / name) for name in ("readings.csv", "counts.csv"))
        found = json.loads(beside.read_text())
    else:
        readings, counts, found = gather(args)
        found["made"] = {"version": program.run("--version").strip(), "seeds": args.seeds, "first_seed": args.first_seed}
        readings.to_csv(args.out / "readings.csv", index=False)
        counts.to_csv(args.out / "counts.csv", index=False)
        beside.write_text(json.dumps(found, indent=1))
    agreed = figures.table(readings, ["source", "measure", "track", "noise"])
    agreed.round(4).to_csv(args.out / "figures.csv", index=False)
    (args.out / "figures.md").write_text(page.markdown(agreed))
    (args.out / "validation.html").write_text(page.html(readings, counts, found, program.measures()), encoding="utf-8")
    print(args.out / "validation.html")


if __name__ == "__main__":
    main()
