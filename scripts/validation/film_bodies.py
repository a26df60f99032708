#!/usr/bin/env python3
"""Films of the rendered mannequin and their truth: film_bodies.py FOLDER SEED, run by the estimator's Python.

Each way of raising (to the side, in the plane of the blade, to the front) is filmed from the front, obliquely and from
the exercising side. The mannequin has no girdle: its shoulder stays where it is.
"""
import json
import pathlib
import random
import sys

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "tests" / "phone"))
import film
import mannequin

RAISES = {"frontal-raise": 0, "scapular-raise": 35, "forward-raise": 90}
YAWS = {"front": 0, "oblique": 45, "side": 90}
REPS, REST_DEG, FIRST_S, RAISE_S, HOLD_S, LOWER_S, PAUSE_S = 4, 8.0, 0.8, 1.5, 0.4, 1.7, 0.6
ROUND_S = RAISE_S + HOLD_S + LOWER_S + PAUSE_S
#: A repetition's boundaries are where the speed is 5 % of the greatest: of a least-jerk movement, at this share of it.
BOUNDARY = 0.0594


def truth(number, top_deg, plane_deg):
    """Values of one repetition, as the simulator's truth names them."""
    start_s = FIRST_S + ROUND_S * number
    fine = numpy.arange(start_s, start_s + ROUND_S, 0.001)
    elevation = numpy.array([mannequin.elevation_deg(time_s, [top_deg] * REPS) for time_s in fine])
    return {"peak-elevation": top_deg, "elevation-range": top_deg - REST_DEG, "plane-of-elevation": plane_deg,
            "arc-time": 0.001 * float(numpy.sum((elevation >= 60) & (elevation <= 120))),
            "raise-time": (1 - 2 * BOUNDARY) * RAISE_S, "lower-time": (1 - 2 * BOUNDARY) * LOWER_S,
            "elbow-straightest": 0.0, "elbow-bent-most": 0.0, "trunk-lean": 0.0, "trunk-turn": 0.0}


def main():
    """Writes NAME.mp4 of each clip, and clips.json."""
    folder, seed = pathlib.Path(sys.argv[1]), int(sys.argv[2])
    draw, clips = random.Random(seed), []
    for exercise, plane_deg in RAISES.items():
        for view, yaw_deg in YAWS.items():
            tops = [round(draw.uniform(85, 150)) for _ in range(REPS)]
            ticks = film.uneven(int(20 * (2 * FIRST_S + ROUND_S * REPS)), 20, seed=draw.randrange(1 << 30))
            times = (tick / film.TICKS_HZ for tick in ticks)
            pictures = [mannequin.picture(mannequin.elevation_deg(time_s, tops), plane_deg, yaw_deg) for time_s in times]
            name = f"{exercise}-{view}"
            film.film(folder / f"{name}.mp4", pictures, ticks)
            clips.append({"name": name, "exercise": exercise, "view": view,
                          "reps": [{"values": truth(number, top, plane_deg)} for number, top in enumerate(tops)]})
    (folder / "clips.json").write_text(json.dumps(clips))


if __name__ == "__main__":
    main()
