#!/usr/bin/env python3
"""Runs a batch on a Dask cluster: each worker calls the program on a share of the manifest.

    study.py MANIFEST OUT [--workers 3] [--shares 12] [--program scaplane] [--root DIR]
                          [--scheduler ADDRESS] [-- OPTIONS OF scaplane batch]

Without --scheduler it starts a scheduler and workers on this machine; with it, the workers of that cluster must see
manifest, clips and OUT under the same paths. A share whose worker dies is done again by another worker, which leaves
the clips that are finished alone (--resume); while the orphan of a dead worker still holds a share's folder, the
other one waits. Needs distributed and pyarrow.
"""
import argparse
import json
import pathlib
import subprocess
import sys
import time

from distributed import Client, TimeoutError, wait

import collect

# A share is tried so often before its fault is taken for its own: workers die for reasons that have nothing to do
# with it.
TRIES = 4
# How often it is looked whether any worker is left, and how long a process may take to end.
LOOK_S = 5
PATIENCE_S = 10


def share(program, manifest, out, part, of, options):
    """Does one share; runs on a worker. Exit status 1 and 3 are results: failed clips, repetitions outside."""
    command = [program, "--quiet", "batch", manifest, "--out", f"{out}/parts/{part}-of-{of}",
               "--shard", f"{part}/{of}", "--resume", *options]
    while True:
        run = subprocess.run(command, capture_output=True, text=True)
        if "error[batch/locked]" in run.stderr:
            time.sleep(0.2)
            continue
        if "error[batch/no-clips]" in run.stderr or run.returncode not in (0, 1, 3):
            raise RuntimeError(f"share {part}/{of}: exit status {run.returncode}\n{run.stderr}")
        if not pathlib.Path(f"{out}/parts/{part}-of-{of}/batch.csv").is_file():
            raise RuntimeError(f"share {part}/{of} wrote no table\n{run.stderr}")
        return part, run.stdout.splitlines()[0] if run.stdout else ""


def start(out, workers):
    """Starts a scheduler and workers on this machine; returns their processes and the scheduler's file."""
    place = out / ".cluster"
    place.mkdir(parents=True, exist_ok=True)
    file = place / "scheduler.json"
    file.unlink(missing_ok=True)
    log = open(place / "log.txt", "w")
    run = lambda *command: subprocess.Popen([sys.executable, "-m", *command], stdout=log, stderr=log)
    scheduler = run("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                    "--scheduler-file", str(file))
    processes = [scheduler]
    for number in range(1, workers + 1):
        processes.append(run("distributed.cli.dask_worker", "--scheduler-file", str(file), "--no-nanny",
                             "--nthreads", "1", "--memory-limit", "0", "--no-dashboard", "--name", f"worker-{number}",
                             "--local-directory", str(place)))
    (place / "workers.json").write_text(json.dumps([process.pid for process in processes[1:]]))
    return processes, str(file)


def ended(futures, workers):
    """The shares in the order in which they end; a fault where no worker is left to do the rest."""
    open_ones = set(futures)
    while open_ones:
        try:
            done = wait(open_ones, timeout=LOOK_S, return_when="FIRST_COMPLETED").done
        except TimeoutError:
            if workers and all(process.poll() is not None for process in workers):
                raise RuntimeError(f"every worker has ended, {len(open_ones)} shares are open") from None
            continue
        yield from done
        open_ones -= done


def stop(processes):
    """Ends the processes started here, in good order if they can."""
    for process in processes:
        process.terminate()
    for process in processes:
        try:
            process.wait(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def main():
    mine = sys.argv[1:]
    options = []
    if "--" in mine:
        cut = mine.index("--")
        mine, options = mine[:cut], mine[cut + 1:]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("manifest", type=pathlib.Path)
    parser.add_argument("out", type=pathlib.Path)
    parser.add_argument("--workers", type=int, default=3)
    parser.add_argument("--shares", type=int, default=12, help="several for each worker, so that all end together")
    parser.add_argument("--program", default="scaplane")
    parser.add_argument("--root", type=pathlib.Path)
    parser.add_argument("--scheduler")
    ask = parser.parse_args(mine)
    out = ask.out.resolve()
    out.mkdir(parents=True, exist_ok=True)
    if ask.root:
        options += ["--root", str(ask.root.resolve())]
    # More shares than clips would leave empty ones.
    shares = max(1, min(ask.shares, collect.clips_of(ask.manifest)))
    processes = []
    try:
        if ask.scheduler:
            client = Client(ask.scheduler)
        else:
            processes, file = start(out, ask.workers)
            client = Client(scheduler_file=file, timeout=60)
            client.wait_for_workers(1, timeout=60)
        manifest = str(ask.manifest.resolve())
        futures = [client.submit(share, ask.program, manifest, str(out), part, shares, options,
                                 pure=False, retries=TRIES - 1) for part in range(1, shares + 1)]
        for future in ended(futures, processes[1:]):
            part, said = future.result()
            print(f"share {part} of {shares}: {said}", flush=True)
        results, failures = collect.collect(ask.manifest, out / "parts", out)
        print(f"{results} results, {failures} failures in {out}")
        client.close()
    finally:
        # Workers before the scheduler that they report to.
        stop(processes[1:])
        stop(processes[:1])


if __name__ == "__main__":
    main()
