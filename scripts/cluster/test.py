#!/usr/bin/env python3
"""Three workers give one machine's tables, also when one of them is killed in the middle.

    test.py PROGRAM [CLIPS]
"""
import csv
import json
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

import psutil
import pyarrow.parquet

HERE = pathlib.Path(__file__).parent
program = str(pathlib.Path(sys.argv[1]).resolve())
clips = int(sys.argv[2]) if len(sys.argv) > 2 else 45


def make_study(folder):
    """Invented clips of three recordings, one of them broken, and a manifest."""
    kinds = []
    for seed in (1, 2, 3):
        subprocess.run([program, "--quiet", "simulate", "--exercise", "scapular-raise", "--view", "oblique", "--noisy",
                        "--to", "coco17-annotations", "--reps", "5", "--seed", str(seed), "--out", folder / f"kind{seed}"],
                       check=True, capture_output=True)
        kinds.append((folder / f"kind{seed}" / "clip.json").read_bytes())
    lines = ["clip,exercise,side,person,date"]
    for number in range(clips):
        (folder / f"clip-{number:03}.json").write_bytes(kinds[number % 3])
        lines.append(f"clip-{number:03}.json,scapular-raise,right,P{number // 5},2026-03-{number % 28 + 1:02}")
    (folder / "broken.json").write_text('{"frames": [')
    lines.insert(clips // 2, "broken.json,scapular-raise,right,,")
    manifest = folder / "manifest.csv"
    manifest.write_text("\n".join(lines) + "\n")
    return manifest


def same(one, several):
    """Tables of both runs are equal but for the folders in which the reports lie."""
    for name in ("batch.csv", "reps.csv", "failures.csv"):
        tables = [list(csv.DictReader(open(place / name, newline=""))) for place in (one, several)]
        for row in (row for table in tables for row in table):
            if "folder" in row:
                row["folder"] = row["folder"].split("clips/")[1]
        assert tables[0] == tables[1], name
        assert tables[0], name
    for name in ("reps.parquet", "readings.parquet"):
        assert pyarrow.parquet.read_table(one / name).equals(pyarrow.parquet.read_table(several / name)), name


def study(manifest, out, kill):
    """Runs the study on three workers; kills one that is at work if asked to."""
    run = subprocess.Popen([sys.executable, HERE / "study.py", manifest, out, "--workers", "3", "--shares", "6",
                            "--program", program, "--", "--reports", "none", "--jobs", "1"],
                           stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    killed = None
    while kill and killed is None and run.poll() is None:
        time.sleep(0.02)
        done = len(list(out.glob("parts/*/clips/*/record.json")))
        if done < clips // 4:
            continue
        for pid in json.loads((out / ".cluster" / "workers.json").read_text()):
            try:
                if psutil.Process(pid).children():
                    os.kill(pid, signal.SIGKILL)
                    killed = (pid, done)
                    break
            except psutil.NoSuchProcess:
                pass
    try:
        said, _ = run.communicate(timeout=600)
    except subprocess.TimeoutExpired:
        # Told whole: what it said, what scheduler and workers said, who still runs.
        tree = [run, *psutil.Process(run.pid).children(recursive=True)]
        running = "\n".join(f"{one.pid} {one.status()} {' '.join(one.cmdline())}" for one in tree[1:])
        for one in reversed(tree):
            one.kill()
        said, _ = run.communicate()
        log = (out / ".cluster" / "log.txt").read_text()
        sys.exit(f"the study did not end\n{said}\n-- scheduler and workers\n{log}\n-- still running\n{running}")
    assert run.returncode == 0, said
    assert bool(killed) == kill, said
    if killed:
        print(f"a worker was killed at its share after {killed[1]} of {clips} clips")
    return said


with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)
    manifest = make_study(folder)
    one = folder / "one"
    run = subprocess.run([program, "--quiet", "batch", manifest, "--out", one, "--reports", "none"],
                         capture_output=True, text=True)
    assert run.returncode == 1, run
    for kill in (False, True):
        out = folder / f"several-{kill}"
        study(manifest, out, kill)
        same(one, out)
    # The folders of the shares in one place are what one machine would have left.
    whole = folder / "whole"
    (whole / "clips").mkdir(parents=True)
    for path in out.glob("parts/*/clips/*"):
        path.rename(whole / "clips" / path.name)
    run = subprocess.run([program, "--quiet", "batch", manifest, "--out", whole, "--reports", "none", "--resume"],
                         capture_output=True, text=True)
    assert f"0 reviewed, {clips} unchanged, 1 failed" in run.stdout, run
    for name in ("batch.csv", "reps.csv", "reps.parquet", "readings.parquet", "failures.csv"):
        assert (whole / name).read_bytes() == (one / name).read_bytes(), name
    # A part that is missing is told.
    (out / "parts" / "1-of-6" / "batch.csv").unlink()
    run = subprocess.run([sys.executable, HERE / "collect.py", manifest, out / "parts", folder / "none"],
                         capture_output=True, text=True)
    assert run.returncode == 1 and "clips are in no part" in run.stderr, run
print(f"{clips} clips and a broken one: three workers, with and without a kill, give one machine's tables")
