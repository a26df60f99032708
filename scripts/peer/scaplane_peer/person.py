"""Who is measured: detections are joined by place and size; the likeliest of the people is taken."""

import math
from dataclasses import dataclass

import numpy as np

from .numbers import median, quantile

#: How far a body may move from one frame to the next, in trunk lengths, how much more for each missed frame,
#: and at most.
STEP, STEP_PER_GAP, FARTHEST_STEP = 0.6, 0.05, 1.5
#: Frames without a detection after which a chain ends.
LONGEST_GAP = 90
#: Largest ratio of sizes from one detection to the next.
SIZE_RATIO = 2.0
MOST_PEOPLE = 200
FEWEST_FRAMES = 3
#: Trunk lengths that shoulder width and upper arm stand for, and share of a standing body's box.
PER_WIDTH, PER_ARM, PER_BOX = 1.3, 1.55, 0.35


@dataclass
class Chain:
    """Detections of one person."""

    links: list
    centre: tuple
    size: float
    last_frame: int
    sizes: list


def seen_points(recording):
    """Points in the picture that count as seen, NaN otherwise."""
    score = recording.picture_score
    seen = (score >= recording.least_score) & (score > 0.0) & np.isfinite(recording.picture).all(axis=-1)
    return np.where(seen[..., None], recording.picture, np.nan)


def _norm(vectors):
    return np.sqrt(np.sum(vectors * vectors, axis=-1))


def _either(a, b):
    """The middle of two points, or the one that is there."""
    middle = (a + b) / 2.0
    return np.where(np.isnan(middle), np.where(np.isnan(a), b, a), middle)


def bodies(points, joints):
    """Centre and size of every detection, NaN where there is none."""
    at = lambda joint: points[:, joints.index(joint)]
    shoulders = _either(at("shoulder-left"), at("shoulder-right"))
    hips = np.where(np.isnan(at("mid-hip")), _either(at("hip-left"), at("hip-right")), at("mid-hip"))
    arms = np.fmax(_norm(at("shoulder-left") - at("elbow-left")), _norm(at("shoulder-right") - at("elbow-right")))
    size = np.fmax(_norm(shoulders - hips), PER_WIDTH * _norm(at("shoulder-left") - at("shoulder-right")))
    size = np.fmax(size, PER_ARM * arms)
    low, high = np.fmin.reduce(points, axis=1), np.fmax.reduce(points, axis=1)
    size = np.where(np.isnan(size), PER_BOX * _norm(high - low), size)
    centre = np.where(np.isnan(shoulders), hips, shoulders)
    centre = np.where(np.isnan(centre), (low + high) / 2.0, centre)
    size[~(size > 0.0)] = np.nan
    return centre, size


def _cost(centre, size, other_centre, other_size, reach):
    """Distance in trunk lengths plus the change of size; None beyond reach."""
    ratio = max(size / other_size, other_size / size)
    distance = math.dist(centre, other_centre) / max(size, other_size)
    if distance > reach or ratio > SIZE_RATIO:
        return None
    return distance + 0.5 * math.log(ratio)


def _chained(frame_of, centres, sizes):
    """Chains of detections, by going from frame to frame to the nearest pairs."""
    waiting, closed = [], []
    starts = np.flatnonzero(np.diff(frame_of, prepend=-1))
    for start, end in zip(starts, [*starts[1:], len(frame_of)]):
        frame = int(frame_of[start])
        closed += [chain for chain in waiting if frame - chain.last_frame > LONGEST_GAP]
        waiting = [chain for chain in waiting if frame - chain.last_frame <= LONGEST_GAP]
        there = [k for k in range(start, end) if not math.isnan(sizes[k])]
        pairs = []
        for k in there:
            for chain in waiting:
                reach = min(STEP + STEP_PER_GAP * (frame - chain.last_frame - 1), FARTHEST_STEP)
                cost = _cost(chain.centre, chain.size, centres[k], sizes[k], reach)
                if cost is not None:
                    pairs.append((cost, k, chain))
        goes_on, taken = {}, set()
        for _, k, chain in sorted(pairs, key=lambda pair: pair[0]):
            if k not in goes_on and id(chain) not in taken:
                goes_on[k] = chain
                taken.add(id(chain))
        for k in there:
            chain = goes_on.get(k)
            if chain is None:
                chain = Chain([], centres[k], sizes[k], frame, [])
                waiting.append(chain)
            chain.links.append(k)
            chain.sizes.append(sizes[k])
            chain.centre, chain.size, chain.last_frame = centres[k], sizes[k], frame
    return closed + waiting


def _stitched(chains, frame_of):
    """Chains that follow each other at about the same place and size are one."""
    chains = sorted(chains, key=lambda chain: -len(chain.links))[:MOST_PEOPLE]
    joined = []
    for chain in sorted(chains, key=lambda chain: chain.links[0]):
        typical = median(chain.sizes)
        starts = frame_of[chain.links[0]]
        nearest = None
        for earlier, earlier_size in joined:
            if earlier.last_frame < starts:
                cost = _cost(earlier.centre, earlier_size, chain.centre, typical, FARTHEST_STEP)
                if cost is not None and (nearest is None or cost < nearest[0]):
                    nearest = (cost, earlier)
        if nearest is None:
            joined.append((chain, typical))
        else:
            earlier = nearest[1]
            earlier.links += chain.links
            earlier.sizes += chain.sizes
            earlier.centre, earlier.size, earlier.last_frame = chain.centre, chain.size, chain.last_frame
    return [chain for chain, _ in joined]


def _arm_motion(points, joints):
    """Widest spread of an elbow or wrist about its shoulder, along any axis."""
    widest = 0.0
    for side in ("left", "right"):
        for far in ("elbow", "wrist"):
            reach = points[:, joints.index(f"{far}-{side}")] - points[:, joints.index(f"shoulder-{side}")]
            for axis in range(reach.shape[-1]):
                spread = quantile(reach[:, axis], 0.9) - quantile(reach[:, axis], 0.1)
                widest = max(widest, np.nan_to_num(spread))
    return widest


def choose(recording):
    """Label of the person to be measured, and the detection in each frame (-1 where there is none)."""
    points = seen_points(recording)
    joints = recording.layout.joints
    centres, sizes = bodies(points, joints)
    frames = len(recording.numbers)
    chains = _chained(recording.frame, [tuple(c) for c in centres.tolist()], sizes.tolist())
    chains = sorted(_stitched(chains, recording.frame), key=lambda chain: -len(chain.links))[:MOST_PEOPLE]
    fewest = min(FEWEST_FRAMES, len(chains[0].links))
    chains = sorted((c for c in chains if len(c.links) >= fewest), key=lambda chain: chain.links[0])
    typical = np.array([median(chain.sizes) for chain in chains])
    # Whoever is alone is measured however the arms move.
    alone = len(chains) == 1
    motion = np.array([0.0 if alone else _arm_motion(points[chain.links], joints) for chain in chains]) / typical
    present = np.array([len(chain.links) for chain in chains]) / frames
    least = np.finfo(float).tiny
    weight = present * (typical / typical.max()) * (0.25 + motion / max(motion.max(), least))
    chosen = len(chains) - 1 - int(np.argmax(weight[::-1]))
    picks = np.full(frames, -1)
    picks[recording.frame[chains[chosen].links]] = chains[chosen].links
    return str(chosen + 1), picks
