"""Command line: `review` for one clip, `sweep` for a folder of clips."""

import argparse
import gzip
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import orjson

from .errors import NotCovered
from .report import rows
from .review import NOT_COMPUTED, review


def load(path):
    """The bytes of a clip."""
    data = Path(path).read_bytes()
    return gzip.decompress(data) if str(path).endswith(".gz") else data


def _one(path, exercise, side, fps, size):
    """Rows of one clip, or why there are none."""
    try:
        return list(rows(path.name, review(load(path), exercise, side, fps, size))), None
    except NotCovered as why:
        return [], f"{path.name}: {why}"


def _sweep(args, options):
    import pandas

    clips = sorted(path for path in Path(args.clip).iterdir() if path.name.endswith((".json", ".json.gz")))
    started = time.perf_counter()
    table, refused = [], []
    with ProcessPoolExecutor(args.workers) as workers:
        for found, why in workers.map(partial(_one, **options), clips, chunksize=4):
            table += found
            refused += [why] if why else []
    pandas.DataFrame(table).to_csv(args.out, index=False)
    seconds = time.perf_counter() - started
    print(f"{len(clips) - len(refused)} clips, {len(table)} rows, {seconds:.2f} s", file=sys.stderr)
    for why in refused:
        print(f"not covered: {why}", file=sys.stderr)
    return 1 if refused or not clips else 0


def _review(args, options):
    data = load(args.clip)
    result = review(data, **options)
    result.pop("signals")
    if args.repeat:
        times = []
        for _ in range(args.repeat):
            started = time.perf_counter()
            review(data, **options)
            times.append(time.perf_counter() - started)
        times.sort()
        print(f"{args.repeat} times, warm: median {1e3 * times[len(times) // 2]:.1f} ms", file=sys.stderr)
    text = orjson.dumps(result, option=orjson.OPT_INDENT_2 | orjson.OPT_SERIALIZE_NUMPY)
    Path(args.out).write_bytes(text) if args.out else sys.stdout.buffer.write(text + b"\n")
    print("not computed: " + "; ".join(NOT_COMPUTED), file=sys.stderr)
    return 0


def main():
    """Parses the command line and runs it."""
    parser = argparse.ArgumentParser(prog="scaplane_peer", description=__doc__)
    commands = parser.add_subparsers(required=True)
    for name, run, what in (("review", _review, "a clip"), ("sweep", _sweep, "a folder of clips")):
        command = commands.add_parser(name, help=f"{name} of {what}")
        command.set_defaults(run=run)
        command.add_argument("clip", help=what)
        command.add_argument("--exercise", required=True)
        command.add_argument("--side", choices=("left", "right"))
        command.add_argument("--fps", type=float)
        command.add_argument("--size", help="such as 1080x1920")
        command.add_argument("--out", required=name == "sweep", help="JSON of one clip, CSV of a folder")
        if name == "sweep":
            command.add_argument("--workers", type=int, default=2)
        else:
            command.add_argument("--repeat", type=int, default=0, help="times it again in the same process")
    args = parser.parse_args()
    size = tuple(float(part) for part in args.size.split("x")) if args.size else None
    options = {"side": args.side, "fps": args.fps, "size": size}
    exercise = {"exercise_id" if args.run is _review else "exercise": args.exercise}
    try:
        return args.run(args, options | exercise)
    except NotCovered as why:
        print(f"not covered: {why}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
