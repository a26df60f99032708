#!/usr/bin/env python3
"""Makes the samples of this folder, and the bad ones of tests/broken, with the libraries of the formats.

Everything is invented: one upper body with legs that raises its right arm to the side, and nothing of the
program under test has a hand in it. In a virtual environment:

    pip install numpy==2.4.6 ezc3d==1.7.2 c3d==0.6.0 h5py==3.16.0 pandas==3.1.1 tables==3.11.1
    python make.py

The files that pandas writes in its "fixed" form hold the time of their making; all others are the same each time.
The points printed at the end are those of cases.toml.
"""

import gzip
import pathlib
import struct

import c3d
import ezc3d
import h5py
import numpy as np
import pandas as pd

HERE = pathlib.Path(__file__).resolve().parent
BROKEN = HERE.parent.parent / "broken"
FRAMES = 24

# Metres: to the picture's right, up, toward the camera. The person faces the camera, so left is on the right.
STILL = {
    "pelvis": (0.0, 0.95, 0.0),
    "left_hip": (0.12, 0.95, 0.0),
    "right_hip": (-0.12, 0.95, 0.0),
    "left_knee": (0.12, 0.5, 0.02),
    "right_knee": (-0.12, 0.5, 0.02),
    "left_ankle": (0.12, 0.08, 0.0),
    "right_ankle": (-0.12, 0.08, 0.0),
    "spine": (0.0, 1.17, 0.0),
    "thorax": (0.0, 1.43, 0.0),
    "neck": (0.0, 1.5, 0.02),
    "head": (0.0, 1.65, 0.03),
    "nose": (0.0, 1.6, 0.12),
    "left_eye": (0.03, 1.64, 0.1),
    "right_eye": (-0.03, 1.64, 0.1),
    "left_ear": (0.07, 1.62, 0.02),
    "right_ear": (-0.07, 1.62, 0.02),
    "left_shoulder": (0.18, 1.4, 0.0),
    "right_shoulder": (-0.18, 1.4, 0.0),
    "left_elbow": (0.2, 1.1, 0.0),
    "left_wrist": (0.21, 0.85, 0.03),
    "left_clavicle": (0.03, 1.41, 0.04),
    "right_clavicle": (-0.03, 1.41, 0.04),
    # Bones of the right shoulder, as markers.
    "ac": (-0.15, 1.44, -0.01),
    "aa": (-0.17, 1.42, -0.06),
    "ts": (-0.08, 1.38, -0.1),
    "ai": (-0.09, 1.25, -0.11),
    "sc": (-0.02, 1.41, 0.05),
    "ij": (0.0, 1.4, 0.06),
    "px": (0.0, 1.22, 0.09),
    "c7": (0.0, 1.47, -0.07),
    "t8": (0.0, 1.22, -0.1),
}


def body(frame):
    """All points of one frame."""
    share = 0.5 - 0.5 * np.cos(2 * np.pi * frame / (FRAMES - 1))
    up = np.radians(8 + 120 * share)
    points = {name: np.array(at) for name, at in STILL.items()}
    arm = np.array([-np.sin(up), -np.cos(up), 0.0])
    points["right_elbow"] = points["right_shoulder"] + 0.3 * arm
    points["right_wrist"] = points["right_shoulder"] + 0.55 * arm
    for name, lift in [("ac", 0.02), ("aa", 0.025), ("ts", 0.005), ("ai", 0.01)]:
        points[name] = points[name] + np.array([0.0, lift * share, 0.0])
    return points


def array(names):
    return np.array([[body(frame)[name] for name in names] for frame in range(FRAMES)])


H36M = (
    "pelvis right_hip right_knee right_ankle left_hip left_knee left_ankle spine thorax neck head "
    "left_shoulder left_elbow left_wrist right_shoulder right_elbow right_wrist"
).split()
COCO = (
    "nose left_eye right_eye left_ear right_ear left_shoulder right_shoulder left_elbow right_elbow left_wrist "
    "right_wrist left_hip right_hip left_knee right_knee left_ankle right_ankle"
).split()
AZURE = (
    "pelvis spine thorax neck left_clavicle left_shoulder left_elbow left_wrist left_wrist left_wrist left_wrist "
    "right_clavicle right_shoulder right_elbow right_wrist right_wrist right_wrist right_wrist left_hip left_knee "
    "left_ankle left_ankle right_hip right_knee right_ankle right_ankle head nose left_eye left_ear right_eye "
    "right_ear"
).split()


def camera(points, distance=5.0):
    """x right, y down, z away, from a camera one metre above the floor."""
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    return np.stack([x, 1.0 - y, distance - z], axis=-1)


def pixels(points):
    """640 x 480 pixels, without perspective."""
    return np.stack([320 + 220 * points[..., 0], 420 - 220 * points[..., 1]], axis=-1)


def npy():
    h36m = array(H36M)
    lifted = camera(h36m)
    lifted = lifted - lifted[:, :1]
    np.save(HERE / "lifted.npy", lifted.astype("<f4"))
    seen = np.concatenate([camera(h36m), np.ones((FRAMES, 17, 1))], axis=-1)
    seen[5, 13] = np.nan  # left wrist
    seen[6, 16] = 0.0  # right wrist
    seen[7] = 0.0  # nobody
    seen[8, 13, 3] = 0.0  # a score that says so
    np.save(HERE / "camera.npy", np.asfortranarray(seen))
    # z up, floor at 0, root in the middle: (1, frames, 17, 3), big-endian.
    turned = np.stack([h36m[..., 0], -h36m[..., 2], h36m[..., 1]], axis=-1)
    turned[..., 2] -= turned[..., 2].min()
    np.save(HERE / "upright.npy", turned[None].astype(">f4"))
    np.save(HERE / "one-person.npy", lifted[:, None].astype("<f8"))
    flat = pixels(array(COCO))
    score = np.full((FRAMES, 17, 1), 0.9)
    score[3, 9] = 0.1
    np.save(HERE / "scored.npy", np.concatenate([flat, score], axis=-1).astype("<f4"))
    whole = np.round(flat).astype("<i4")
    whole[4, 10] = 0
    np.save(HERE / "pixels.npy", whole)
    sensor = 1000 * camera(array(AZURE), 2.5)
    np.save(HERE / "sensor.npy", sensor.astype("<f4"))

    good = (HERE / "lifted.npy").read_bytes()
    (BROKEN / "array-short-head.npy").write_bytes(good[:60])
    (BROKEN / "array-cut.npy").write_bytes(good[: len(good) // 2])
    (BROKEN / "array-huge.npy").write_bytes(good.replace(b"(24, 17, 3)", b"(999999, 17, 3)")[:4096])
    (BROKEN / "array-vast.npy").write_bytes(
        good.replace(b"(24, 17, 3), }" + b" " * 30, b"(99999999999999, 99999999999999, 3), }" + b" " * 6)
    )
    np.save(BROKEN / "array-flat.npy", np.zeros((FRAMES, 51), "<f4"))
    np.save(BROKEN / "array-words.npy", np.full((FRAMES, 17, 3), "left"))
    legs = lifted[:, [0, 4, 5, 6, 1, 2, 3, *range(7, 17)]]
    np.save(BROKEN / "array-left-leg-first.npy", legs.astype("<f4"))
    np.save(BROKEN / "array-coco.npy", np.load(HERE / "scored.npy"))
    # Shares of the picture with a depth: they look like metres.
    shares = array(COCO)
    shares = np.stack(
        [0.5 + shares[..., 0] / 2, 0.9 - shares[..., 1] / 2, -shares[..., 2]], axis=-1
    )
    np.save(BROKEN / "array-shares.npy", shares.astype("<f4"))
    np.save(BROKEN / "array-centred.npy", (pixels(array(COCO)) / 240 - [1.3, 1.0]).astype("<f4"))


MARKERS = {
    "gu": "right_shoulder",
    "centelbow": "right_elbow",
    "AC": "ac",
    "AA": "aa",
    "TS": "ts",
    "AI": "ai",
    "SC": "sc",
    "IJ": "ij",
    "PX": "px",
    "C7": "c7",
    "T8": "t8",
    "r_wrist": "right_wrist",
}


def markers(unit):
    """z up, x to the picture's right, y away."""
    points = array(list(MARKERS.values()))
    return unit * np.stack([points[..., 0], -points[..., 2], points[..., 1]], axis=-1)


def with_ezc3d(name, prefix="", unit=1000.0, unit_name="mm", analog=True, extra=0):
    points, frames = markers(unit), FRAMES
    labels = [prefix + label for label in MARKERS]
    labels = [f"v{number}" for number in range(extra)] + labels
    padding = np.full((frames, extra, 3), 7.0)
    points = np.concatenate([padding, points], axis=1)
    points[5, extra + 2] = np.nan  # ezc3d writes residual -1
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["LABELS"]["value"] = labels
    file["parameters"]["POINT"]["UNITS"]["value"] = [unit_name]
    file["parameters"]["POINT"]["RATE"]["value"] = [100.0]
    file["data"]["points"] = np.concatenate(
        [points.transpose(2, 1, 0), np.ones((1, len(labels), frames))]
    )
    if analog:
        file["parameters"]["ANALOG"]["RATE"]["value"] = [200.0]
        file["parameters"]["ANALOG"]["LABELS"]["value"] = ["force", "moment"]
        file["data"]["analogs"] = np.arange(4.0 * frames).reshape(1, 2, -1)
    file.write(str(name))


def with_c3d(name):
    """Scaled 16-bit integers, and analog numbers between the frames."""
    points = markers(1000.0)
    writer = c3d.Writer(point_rate=50.0, analog_rate=100.0, point_scale=0.1)
    writer.set_point_labels([f"S1:{label}" for label in MARKERS])
    writer.set_analog_labels(["force"])
    for frame in range(FRAMES):
        rows = np.zeros((len(MARKERS), 5), np.float32)
        rows[:, :3] = points[frame]
        if frame == 6:
            rows[2, 3] = -1
        if frame == 7:
            rows[3, :3] = 0
        writer.add_frames([(rows, np.zeros((1, 2), np.float32))])
    with open(name, "wb") as out:
        writer.write(out)


def c3d_files():
    with_ezc3d(HERE / "floats.c3d")
    with_ezc3d(HERE / "subject.c3d", prefix="S1:", unit=1.0, unit_name="m", analog=False)
    many = HERE / "many-labels.c3d"
    with_ezc3d(many, extra=270, analog=False)
    (HERE / "many-labels.c3d.gz").write_bytes(gzip.compress(many.read_bytes(), mtime=0))
    many.unlink()
    with_c3d(HERE / "integers.c3d")
    good = (HERE / "floats.c3d").read_bytes()
    (BROKEN / "markers-cut-head.c3d").write_bytes(good[:700])
    data = 512 * (struct.unpack_from("<H", good, 16)[0] - 1)
    (BROKEN / "markers-no-frame.c3d").write_bytes(good[: data + 60])
    frame = 4 * (4 * len(MARKERS) + 4)
    (HERE / "cut-off.c3d").write_bytes(good[: data + 15 * frame + 50])
    for name, processor in [("dec", 85), ("mips", 86)]:
        other = bytearray(good)
        other[512 * (good[0] - 1) + 3] = processor
        (BROKEN / f"markers-{name}.c3d").write_bytes(other)
    wrong = bytearray(good)
    struct.pack_into("<H", wrong, 2, 60000)
    (BROKEN / "markers-count.c3d").write_bytes(wrong)
    (BROKEN / "markers-unnamed.c3d").write_bytes(
        good.replace(b"centelbow", b"stone    ").replace(b"LABELS", b"LABEXX")
    )


NODES = {
    "l_shoulder": "left_shoulder",
    "r_shoulder": "right_shoulder",
    "R_Elbow": "right_elbow",
    "r_wrist": "right_wrist",
    "l_elbow": "left_elbow",
    "l_hip": "left_hip",
    "r_hip": "right_hip",
    "acromion": "ac",
    "tail": "head",
}


def sleap(name, people, reverse=False):
    # As SLEAP's write_tracking_h5.py (from memory): every array is written with its axes reversed.
    flat = pixels(array(list(NODES.values())))
    tracks = np.full((FRAMES, len(NODES), 2, people), np.nan)
    for person in range(people):
        tracks[..., person] = flat + [200.0 * person, 0.0]
    tracks[4, 3, :, 0] = np.nan
    if people > 1:
        tracks[:10, :, :, 1] = np.nan
    scores = np.where(np.isnan(tracks[:, :, 0]), np.nan, 0.8)
    occupancy = ~np.isnan(tracks).all(axis=(1, 2))
    with h5py.File(name, "w") as out:
        turn = (lambda values: values) if reverse else np.transpose
        for key, values in {
            "tracks": tracks,
            "point_scores": scores,
            "track_occupancy": occupancy.T.astype(np.uint8),
        }.items():
            out.create_dataset(key, data=turn(values), compression="gzip", compression_opts=9)
        out.create_dataset("node_names", data=[name.encode() for name in NODES])
        out.create_dataset("track_names", data=[f"track_{n}".encode() for n in range(people)])
        out.create_dataset("video_path", data="clip.mp4")


def deeplabcut(name, form, individuals=None, likelihood=True):
    parts = list(NODES)
    coordinates = ["x", "y", "likelihood"] if likelihood else ["x", "y"]
    flat = pixels(array(list(NODES.values())))
    if individuals:
        columns = pd.MultiIndex.from_product(
            [["net"], individuals, parts, coordinates],
            names=["scorer", "individuals", "bodyparts", "coords"],
        )
    else:
        columns = pd.MultiIndex.from_product(
            [["net"], parts, coordinates], names=["scorer", "bodyparts", "coords"]
        )
    one = np.concatenate([flat, np.full((FRAMES, len(parts), 1), 0.95)], axis=-1)
    one[4, 3, 2] = 0.1
    one = one[..., : len(coordinates)]
    if not likelihood:
        one[4, 3] = np.nan
    rows = [one.reshape(FRAMES, -1)]
    if individuals:
        moved = one.copy()
        moved[..., 0] += 200
        moved[:10] = np.nan
        rows.append(moved.reshape(FRAMES, -1))
    table = pd.DataFrame(np.concatenate(rows, axis=1), columns=columns)
    table.to_hdf(name, key="df_with_missing", format=form, mode="w")


def hdf5_files():
    sleap(HERE / "one-track.h5", 1)
    sleap(HERE / "two-tracks.h5", 2)
    sleap(HERE / "reversed.h5", 1, reverse=True)
    deeplabcut(HERE / "fixed.h5", "fixed")
    deeplabcut(HERE / "individuals.h5", "fixed", ["left one", "right one"])
    deeplabcut(HERE / "labelled.h5", "fixed", likelihood=False)
    # The index of a "table" takes a megabyte; it is not needed and left out here.
    flat = HERE / "table.h5"
    deeplabcut(flat, "table")
    with h5py.File(flat) as whole, h5py.File(HERE / "small.h5", "w", libver="earliest") as small:
        group = small.create_group("df_with_missing")
        for key, value in whole["df_with_missing"].attrs.items():
            if not isinstance(value, h5py.Empty):
                group.attrs[key] = value
        old = whole["df_with_missing/table"]
        table = group.create_dataset("table", data=old[()], chunks=(16,), maxshape=(None,))
        for key, value in old.attrs.items():
            if not isinstance(value, h5py.Empty):
                table.attrs[key] = value
    (HERE / "small.h5").replace(flat)

    good = (HERE / "one-track.h5").read_bytes()
    (BROKEN / "tracks-cut.h5").write_bytes(good[: len(good) // 2])
    (BROKEN / "tracks-head.h5").write_bytes(good[:40])
    with h5py.File(BROKEN / "hdf5-other.h5", "w") as out:
        out.create_dataset("temperature", data=np.zeros(10))
    with h5py.File(BROKEN / "tracks-shape.h5", "w") as out:
        out.create_dataset("tracks", data=np.zeros((1, 2, 7, 12)))
        out.create_dataset("node_names", data=[b"l_shoulder", b"r_shoulder"])
    with h5py.File(BROKEN / "tracks-huge.h5", "w") as out:
        out.create_dataset("tracks", shape=(1, 2, 2, 10**12), dtype="f8", chunks=(1, 2, 2, 1024))
        out.create_dataset("node_names", data=[b"l_shoulder", b"r_shoulder"])
    with h5py.File(BROKEN / "project.h5", "w") as out:
        for key in ["frames", "instances", "points", "metadata"]:
            out.create_dataset(key, data=np.zeros(3))
    with h5py.File(BROKEN / "tracks-unnamed.h5", "w") as out:
        out.create_dataset("tracks", data=np.ones((1, 2, 2, 12)))
        out.create_dataset("node_names", data=[b"snout", b"tail"])


if __name__ == "__main__":
    npy()
    c3d_files()
    hdf5_files()
    for frame in [0, 11]:
        for name in ["right_wrist", "left_elbow", "ac", "ai"]:
            at = body(frame)[name]
            print(frame, name, np.round(at, 4), np.round(pixels(at), 2))
    for path in sorted([*HERE.iterdir(), *BROKEN.iterdir()]):
        if path.suffix in [".npy", ".c3d", ".h5"]:
            print(path.name, path.stat().st_size)
