"""The program as a user runs it."""
import json
import os
import subprocess

PROGRAM = os.environ.get("SCAPLANE", "scaplane")


class Refused(Exception):
    """The program ended with an error; its words."""


def run(*words):
    """Standard output of one run."""
    done = subprocess.run([PROGRAM, "--quiet", *map(str, words)], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise Refused(done.stderr.strip() or f"exit status {done.returncode}")
    return done.stdout


def review(clip, *options):
    """The result of one side in one clip as plain data."""
    return json.loads(run("review", clip, *options, "--json", "-"))


def measures():
    """Every measure: id, unit and name, in the program's order."""
    rows = (line.split(None, 2) for line in run("measures").splitlines() if line.strip())
    return [{"measure": row[0], "unit": row[1].replace("_", " "), "name": row[2]} for row in rows]


def exercises():
    """Ids of every exercise."""
    return [line.split()[0] for line in run("exercises").splitlines() if line and not line[0].isspace()]
