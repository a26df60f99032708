"""The way of the data, in order: bytes of a clip to readings, verdicts and drift."""

from hashlib import sha256

from . import models
from .condition import condition
from .judge import drift, finding, overall, verdict
from .kinematics import moving_side
from .measures import measure_all
from .picture import measure as from_picture
from .read import read
from .reps import repetitions
from .space import measure as from_space
from .track import assemble
from .view import Z_95

#: What `scaplane review` does beside, and the peer does not.
NOT_COMPUTED = (
    "telling the format and layout by content, and whether the points form a body",
    "sentences of notes, findings and remedies",
    "first-order noise of the residual analysis (no result rests on it)",
    "page, pictures, curves and stick figure for drawing",
    "the plan of a clinician and the calibrated rhythm",
)


def review(data, exercise_id, side=None, fps=None, size=None):
    """Reviews the bytes of one clip."""
    exercise = models.exercise(exercise_id)
    conditioned = condition(assemble(read(data), fps, size))
    track = conditioned.track
    side = side or moving_side(track)
    measure = from_picture if track.space is None else from_space
    kinematics = measure(conditioned, exercise, models.assumptions(), side)
    reps = repetitions(kinematics, exercise)
    measured = measure_all(kinematics, reps, exercise, models.linkage(exercise.plane_aim_deg))
    return {
        "clip": {"sha256": sha256(data).hexdigest()} | _clip(conditioned, kinematics),
        "exercise": exercise.id,
        "side": side,
        "reps": [_rep(k, rep, found, kinematics, exercise) for k, (rep, found) in enumerate(zip(reps, measured), 1)],
        "sets": _sets(reps, measured, exercise),
        "signals": {k: s for k, s in kinematics.signals.items() if not isinstance(s, str)},
        "counts": conditioned.counts,
        "not_computed": NOT_COMPUTED,
    }


def _clip(conditioned, kinematics):
    line, view = kinematics.timeline, kinematics.view
    known = line.knows_seconds
    half = Z_95 * view.yaw_deg.sd
    return {
        "layout": conditioned.track.layout,
        "space": kinematics.space,
        "frames": len(line.times_s),
        "duration_s": float(line.times_s[-1] - line.times_s[0]) if known else None,
        "rate_hz": kinematics.rate_hz if known else None,
        "timing": line.timing,
        "person": conditioned.track.person,
        "view": {
            "name": view.name, "yaw_deg": view.yaw_deg.value, "low_deg": view.yaw_deg.value - half,
            "high_deg": view.yaw_deg.value + half,
        },
        "coverage": conditioned.track.coverage(),
        "cutoff_hz": conditioned.cutoff_hz,
    }  # fmt: skip


def _rep(number, rep, found, kinematics, exercise):
    judged = [(limit, found[limit.measure]) for limit in exercise.limits]
    verdicts = [(verdict(one, limit), limit.key) for limit, one in judged]
    findings = [finding(one, limit, v) for (limit, one), (v, _) in zip(judged, verdicts) if v != "within"]
    rank = {"outside": 0, "near": 1, "cannot-tell": 2}
    time = lambda frame: float(kinematics.timeline.times_s[frame]) if kinematics.timeline.knows_seconds else None
    return {
        "number": number, "set": rep.set, "start_frame": rep.start, "peak_frame": rep.peak, "end_frame": rep.end,
        "start_s": time(rep.start), "peak_s": time(rep.peak), "end_s": time(rep.end),
        "complete": rep.incomplete is None, "incomplete_because": rep.incomplete, "verdict": overall(verdicts),
        "judged": {"measurable": sum(v != "cannot-tell" for v, _ in verdicts), "of": len(verdicts)},
        "readings": {name: _reading(one) for name, one in found.items()},
        "findings": sorted(findings, key=lambda one: rank[one["verdict"]]),
    }  # fmt: skip


def _reading(found):
    if isinstance(found, str):
        return {"value": None, "why": found}
    return {
        "value": float(found.value), "low": float(found.low), "high": float(found.high), "observed": found.observed,
        "basis": found.basis, "why": None,
    }  # fmt: skip


def _sets(reps, measured, exercise):
    sets = []
    for number in sorted({rep.set for rep in reps}):
        members = [k for k, rep in enumerate(reps) if rep.set == number]
        verdicts = [[verdict(measured[k][limit.measure], limit) for limit in exercise.limits] for k in members]
        rows = drift(
            [measured[k] for k in members], [reps[k].incomplete is None for k in members], [k + 1 for k in members],
            verdicts, exercise.limits,
        )  # fmt: skip
        sets.append({"number": number, "reps": [k + 1 for k in members], "drift": rows})
    return sets
