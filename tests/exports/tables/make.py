"""Makes the sample tables of this folder and cases.toml, from an invented body that raises its right arm.

Run in a virtual environment with pandas and sleap-io:  python make.py
DeepLabCut tables are written with pandas, as that program does, and the SLEAP table by sleap-io; the others
are written by hand from the facts about each format. No person and no recording stands behind the numbers.
"""

import json
import math
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).parent
FRAMES = 16
RATE = 30
WIDTH, HEIGHT = 640, 480
CASES = []


def body(frame):
    """Points in metres: right in the picture, up, toward the camera; the middle of the hips is the origin."""
    angle = math.radians(10 + 110 * frame / (FRAMES - 1))
    way = np.array([-math.sin(angle), -math.cos(angle), 0.05])
    right_shoulder = np.array([-0.18, 0.46, 0.0])
    points = {
        "nose": [0.0, 0.64, 0.11],
        "left_eye": [0.03, 0.67, 0.09],
        "right_eye": [-0.03, 0.67, 0.09],
        "left_ear": [0.07, 0.65, 0.0],
        "right_ear": [-0.07, 0.65, 0.0],
        "neck": [0.0, 0.49, 0.0],
        "left_shoulder": [0.18, 0.46, 0.0],
        "right_shoulder": right_shoulder,
        "left_elbow": [0.2, 0.18, 0.0],
        "right_elbow": right_shoulder + 0.28 * way,
        "left_wrist": [0.21, -0.06, 0.02],
        "right_wrist": right_shoulder + 0.52 * way,
        "left_hip": [0.1, 0.0, 0.0],
        "right_hip": [-0.1, 0.0, 0.0],
        "left_knee": [0.1, -0.42, 0.02],
        "right_knee": [-0.1, -0.42, 0.02],
        "left_ankle": [0.1, -0.82, 0.0],
        "right_ankle": [-0.1, -0.82, 0.0],
        "left_clavicle": [0.02, 0.47, 0.02],
        "right_clavicle": [-0.02, 0.47, 0.02],
    }
    return {name: np.asarray(at, dtype=float) for name, at in points.items()}


def pixels(point):
    """Pixels from the top left corner."""
    return [320 + 300 * point[0], 260 - 300 * point[1]]


BODIES = [body(frame) for frame in range(FRAMES)]
CHECKED = ["left_shoulder", "right_elbow", "right_wrist", "left_hip"]
JOINT = {"left_shoulder": "shoulder-left", "right_elbow": "elbow-right", "right_wrist": "wrist-right",
         "left_hip": "hip-left", "left_clavicle": "sternal-end-left", "right_clavicle": "sternal-end-right",
         "nose": "nose", "left_wrist": "wrist-left", "right_shoulder": "shoulder-right"}


def case(file, reader, layout, within, space=False, frames=FRAMES, people=1, notes=(), options="",
         checked=CHECKED, missing=(), first=0, move=lambda p: p, picture=pixels):
    lines = ["[[case]]", f'file = "{file}"']
    if options:
        lines.append(f"options = {{ {options} }}")
    lines += [f'reader = "{reader}"', f'layout = "{layout}"', f"frames = {frames}"]
    if people != 1:
        lines.append(f"people = {people}")
    if notes:
        lines.append("notes = [" + ", ".join(f'"{note}"' for note in notes) + "]")
    lines += [f"within = {within}", "check = ["]
    for frame in (0, FRAMES - 5):
        for name in checked:
            at = move(BODIES[frame + first][name])
            where = [round(float(v), 4) for v in (at if space else picture(at))]
            kind = "space" if space else "picture"
            lines.append(f'    {{ frame = {frame}, joint = "{JOINT[name]}", {kind} = {where} }},')
    for frame, name in missing:
        lines.append(f'    {{ frame = {frame}, joint = "{JOINT[name]}", missing = true }},')
    lines.append("]")
    CASES.append("\n".join(lines))


def write(name, text, **keywords):
    (HERE / name).write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", **keywords))


def fmt(value, digits=4):
    return f"{value:.{digits}f}"


# ---- DeepLabCut ------------------------------------------------------------------------------
OWN = {"LShldr": "left_shoulder", "RShldr": "right_shoulder", "RElb": "right_elbow", "RWr": "right_wrist",
       "LElb": "left_elbow", "LWr": "left_wrist", "LPelv": "left_hip", "RPelv": "right_hip"}
KNOWN = ["nose", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist",
         "left_hip", "right_hip"]
OWN_MAP = "map = [" + ", ".join(f'["{joint}", "{name}"]' for name, joint in OWN.items()) + "]"


def dlc(names, coords, individuals=None, at=lambda b, n, i: pixels(b[n]), hidden=()):
    columns, rows = [], []
    people = individuals or [None]
    for i, person in enumerate(people):
        for name in names:
            for coord in coords:
                levels = ("DLC_invented", person, name, coord) if individuals else ("DLC_invented", name, coord)
                columns.append(levels)
    for frame, one in enumerate(BODIES):
        row = []
        for i, _ in enumerate(people):
            for name in names:
                values = [round(float(v), 3) for v in at(one, names[name], i)]
                if "likelihood" in coords:
                    values.append(0.11 if (frame, name) in hidden else 0.98)
                elif (frame, name) in hidden:
                    values = [np.nan] * len(values)
                row += values
        rows.append(row)
    levels = ["scorer", "individuals", "bodyparts", "coords"] if individuals else ["scorer", "bodyparts", "coords"]
    return pd.DataFrame(rows, columns=pd.MultiIndex.from_tuples(columns, names=levels))


XYL = ["x", "y", "likelihood"]
same = {name: name for name in KNOWN}
dlc(same, XYL, hidden={(3, "right_wrist")}).to_csv(HERE / "dlc-three-rows.csv")
case("dlc-three-rows.csv", "deeplabcut-csv", "coco-17", 0.01, missing=[(3, "right_wrist")])
dlc(OWN, XYL).to_csv(HERE / "dlc-own-names.csv")
case("dlc-own-names.csv", "deeplabcut-csv", "tidy", 0.01, options=OWN_MAP)
mapped_half = {"L Shoulder": "left_shoulder", "R.Shoulder": "right_shoulder", "rElbow": "right_elbow",
               "hand_tape": "right_wrist", "L_HIP": "left_hip", "R_HIP": "right_hip", "cup": "left_wrist"}
dlc(mapped_half, XYL).to_csv(HERE / "dlc-one-mapped.csv")
case("dlc-one-mapped.csv", "deeplabcut-csv", "mpi-15", 0.01, options='map = [["right_wrist", "HandTape"]]',
     notes=["read/points-unused"])
dlc(same, XYL, ["person1", "person2"], at=lambda b, n, i: [v + 200 * i for v in pixels(b[n])]).to_csv(
    HERE / "dlc-individuals.csv")
case("dlc-individuals.csv", "deeplabcut-csv", "coco-17", 0.01, people=2, options='person = "person1"')
dlc(same, XYL, ["single"]).to_csv(HERE / "dlc-single.csv")
case("dlc-single.csv", "deeplabcut-csv", "coco-17", 0.01)
both = pd.concat([dlc(same, XYL, ["person1"]), dlc({"ball": "nose"}, XYL, ["single"])], axis=1)
both.to_csv(HERE / "dlc-person-and-single.csv")
case("dlc-person-and-single.csv", "deeplabcut-csv", "coco-17", 0.01, notes=["read/points-unused"])
labelled = dlc(same, ["x", "y"], hidden={(3, "right_wrist")})
labelled.index = [f"labeled-data/clip1/img{frame:04d}.png" for frame in range(FRAMES)]
labelled.to_csv(HERE / "dlc-labelled-path.csv")
case("dlc-labelled-path.csv", "deeplabcut-csv", "coco-17", 0.01, missing=[(3, "right_wrist")])
labelled.index = pd.MultiIndex.from_tuples([("labeled-data", "clip1", f"img{frame:04d}.png") for frame in range(FRAMES)])
labelled.to_csv(HERE / "dlc-labelled-three-cells.csv")
case("dlc-labelled-three-cells.csv", "deeplabcut-csv", "coco-17", 0.01, missing=[(3, "right_wrist")])
dlc(same, ["x", "y", "z"], at=lambda b, n, i: [100 * b[n][0], -100 * b[n][1], -100 * b[n][2]]).to_csv(
    HERE / "dlc-three-coordinates.csv")
case("dlc-three-coordinates.csv", "deeplabcut-csv", "coco-17", 1e-4, space=True,
     notes=["read/units-assumed", "read/axes-assumed"])
lightning = dlc(same, XYL)
lightning.columns = lightning.columns.set_levels(["heatmap_tracker"], level=0)
lightning.to_csv(HERE / "lightning-pose.csv")
case("lightning-pose.csv", "deeplabcut-csv", "coco-17", 0.01)

# ---- SLEAP -------------------------------------------------------------------------------------


def sleap_rows(tracks, names=KNOWN, shift=220):
    head = ["track", "frame_idx", "instance.score"] + [f"{n}.{p}" for n in names for p in ("x", "y", "score")]
    lines = [",".join(head)]
    for frame, one in enumerate(BODIES):
        for i, track in enumerate(tracks):
            cells = [track, str(frame), "0.91"]
            for name in names:
                x, y = pixels(one[name])
                gone = frame == 3 and name == "right_wrist"
                cells += ["nan", "nan", "nan"] if gone else [fmt(x + shift * i, 3), fmt(y, 3), "0.87"]
            lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


write("sleap-tracks.csv", sleap_rows(["track_0", "track_1"]))
case("sleap-tracks.csv", "sleap-csv", "coco-17", 0.01, people=2, options='person = "track_0"', missing=[(3, "right_wrist")])
write("sleap-untracked.csv", sleap_rows(["", ""]))
case("sleap-untracked.csv", "sleap-csv", "coco-17", 0.01, people=2, options='person = "1"')
try:
    import sleap_io as sio

    skeleton = sio.Skeleton(nodes=list(OWN))
    track = sio.Track("t0")
    video = sio.Video(filename="invented.mp4", open_backend=False)
    labelled_frames = []
    for frame, one in enumerate(BODIES):
        points = np.array([pixels(one[name]) for name in OWN.values()])
        instance = sio.PredictedInstance.from_numpy(points, skeleton=skeleton, point_scores=np.full(len(OWN), 0.9),
                                                    score=0.9, track=track)
        labelled_frames.append(sio.LabeledFrame(video=video, frame_idx=frame, instances=[instance]))
    labels = sio.Labels(labelled_frames)
    from sleap_io.io import csv as sleap_csv

    sleap_csv.write_labels(labels, str(HERE / "sleap-own-names.csv"), format="sleap")
except Exception as error:  # the table is left as it was
    print("sleap-io:", error)
case("sleap-own-names.csv", "sleap-csv", "tidy", 0.01, options=OWN_MAP)


def node(name):
    return {"py/object": "sleap.skeleton.Node", "py/state": {"py/tuple": [name, 1.0]}}


def project(names, skeleton, nodes, track):
    labels = []
    for frame, one in enumerate(BODIES):
        points = {}
        for i, name in enumerate(names.values()):
            x, y = pixels(one[name])
            points[str(i)] = {"x": round(x, 3), "y": round(y, 3), "visible": not (frame == 3 and name == "right_wrist"),
                              "complete": True}
        labels.append({"video": 0, "frame_idx": frame, "_instances": [{"skeleton": 0, "track": track, "_points": points}]})
    labels.insert(5, {"video": 0, "frame_idx": 99, "_instances": []})
    document = {"version": "2.0.0", "skeletons": [skeleton], "videos": [{"backend": {"filename": "invented.mp4"}}],
                "labels": labels, "tracks": []}
    if nodes:
        document["nodes"] = [{"name": name, "weight": 1.0} for name in names]
    return json.dumps(document)


plain_skeleton = {"directed": True, "graph": {"name": "s"}, "links": [], "nodes": [{"id": i} for i in range(len(KNOWN))]}
write("sleap-project.json", project(same, plain_skeleton, True, None))
case("sleap-project.json", "sleap-json", "coco-17", 0.01, frames=FRAMES + 1, missing=[(3, "right_wrist")])
own = list(OWN)
edge = {"py/reduce": [{"py/type": "sleap.skeleton.EdgeType"}, {"py/tuple": [1]}]}
links = [{"key": 0, "source": node(own[0]), "target": node(own[1]), "type": edge},
         {"key": 0, "source": {"py/id": 2}, "target": node(own[2]), "type": {"py/id": 3}},
         {"key": 0, "source": {"py/id": 4}, "target": node(own[3]), "type": {"py/id": 3}}]
ids = [{"id": {"py/id": 1}}, {"id": {"py/id": 2}}, {"id": {"py/id": 4}}, {"id": {"py/id": 5}}]
pickled = {"directed": True, "graph": {"name": "s"}, "links": links, "nodes": ids + [{"id": node(name)} for name in own[4:]]}
write("sleap-project-pickled.json", project(OWN, pickled, False, None))
case("sleap-project-pickled.json", "sleap-json", "tidy", 0.01, frames=FRAMES + 1, options=OWN_MAP,
     missing=[(3, "right_wrist")])

# ---- 33 landmarks ------------------------------------------------------------------------------
LANDMARKS = ["nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
             "left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder", "right_shoulder", "left_elbow",
             "right_elbow", "left_wrist", "right_wrist", "left_pinky", "right_pinky", "left_index", "right_index",
             "left_thumb", "right_thumb", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle",
             "right_ankle", "left_heel", "right_heel", "left_foot_index", "right_foot_index"]


def landmark(one, name):
    side = "left" if "left" in name else "right"
    if name in one:
        return one[name]
    if "eye" in name:
        return one[f"{side}_eye"] + [0.008 if "inner" in name else -0.008, 0, 0]
    if "mouth" in name:
        return one["nose"] + [0.02 if side == "left" else -0.02, -0.05, -0.01]
    if any(word in name for word in ("pinky", "index", "thumb")) and "foot" not in name:
        return one[f"{side}_wrist"] + [0.01, -0.05, 0.01]
    return one[f"{side}_ankle"] + [0, -0.04, 0.06 if "foot" in name else -0.03]


def shares(point):
    """Shares of the picture, z about the hips and smaller toward the camera."""
    x, y = pixels(point)
    return [x / WIDTH, y / HEIGHT, -300 * point[2] / WIDTH]


def pixel_up(point):
    x, y = pixels(point)
    return [x, HEIGHT - y, 0.0]


def world(point):
    return [point[0], -point[1], -point[2]]


def wide(column, at, lead=None, digits=5, base=0, parts="xyzv"):
    head, rows = [], []
    for i, name in enumerate(LANDMARKS):
        for part in parts:
            head.append(column(i + base, name, part))
    for frame, one in enumerate(BODIES):
        cells = [lead(frame)] if lead else []
        for name in LANDMARKS:
            cells += [fmt(v, digits) for v in at(landmark(one, name))] + (["0.99"] if "v" in parts else [])
        rows.append(",".join(cells))
    return head, rows


def table(name, lead, column, at, leading, **keywords):
    head, rows = wide(column, at, leading, **keywords)
    write(name, "\n".join([",".join(([lead] if lead else []) + head)] + rows) + "\n")


SIZE = f"size = [{WIDTH}.0, {HEIGHT}.0]"
words = {"x": "x", "y": "y", "z": "z", "v": "visibility"}
number = str
table("landmarks-landmark_0_x.csv", "frame", lambda i, n, p: f"landmark_{i}_{words[p]}", shares, number)
case("landmarks-landmark_0_x.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE)
table("landmarks-nose_x.csv", "timestamp_ms", lambda i, n, p: f"{n}_{words[p]}", shares, lambda f: fmt(f * 1000 / RATE, 1))
case("landmarks-nose_x.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE)
table("landmarks-x_0.csv", "", lambda i, n, p: f"{p}_{i}", shares, None)
case("landmarks-x_0.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE)
table("landmarks-class-x1.csv", "class", lambda i, n, p: f"{p}{i}", shares, lambda f: "raise", base=1)
case("landmarks-class-x1.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE)
table("landmarks-upper-case.csv", "frame", lambda i, n, p: f"PoseLandmark.{n.upper()}_{p}", shares, number)
case("landmarks-upper-case.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE)
table("landmarks-world.csv", "frame", lambda i, n, p: f"{n}_{words[p]}", world, number)
case("landmarks-world.csv", "landmarks33-csv", "landmarks-33", 1e-4, space=True, notes=["read/world-assumed"])
table("landmarks-y-up.csv", "frame", lambda i, n, p: f"{n}_{words[p]}", pixel_up, number, digits=2)
case("landmarks-y-up.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE, notes=["read/y-up"])


def long(head, cells, at, digits=4):
    lines = [head]
    for frame, one in enumerate(BODIES):
        for i, name in enumerate(LANDMARKS):
            lines.append(",".join(cells(frame, i, name) + [fmt(v, digits) for v in at(landmark(one, name))] + ["0.99"]))
    return "\n".join(lines) + "\n"


def camel(name):
    first, *rest = name.split("_")
    return first + "".join(word.title() for word in rest)


write("landmarks-long-id.csv", long("frame,landmark_id,x,y,z,visibility", lambda f, i, n: [str(f), str(i)], shares))
case("landmarks-long-id.csv", "landmarks33-csv", "landmarks-33", 0.05, options=SIZE)
write("landmarks-long-name.csv", long("frame,landmark,x,y,z,visibility", lambda f, i, n: [str(f), n.upper()], shares))
case("landmarks-long-name.csv", "landmarks33-csv", "landmarks-33", 0.05, options=SIZE)
write("landmarks-long-camel.csv", long("frame,landmark,x,y,z,visibility", lambda f, i, n: [str(f), camel(n)], shares))
case("landmarks-long-camel.csv", "landmarks33-csv", "landmarks-33", 0.05, options=SIZE)
write("landmarks-no-frame.csv", long("id,landmark,x,y,z,visibility", lambda f, i, n: [str(f * 33 + i), n], pixel_up, 2))
case("landmarks-no-frame.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE, notes=["read/y-up"])
write("landmarks-rows-only.csv", long("x,y,z,visibility", lambda f, i, n: [], pixel_up, 2))
case("landmarks-rows-only.csv", "landmarks33-csv", "landmarks-33", 0.02, options=SIZE, notes=["read/y-up"])
for parts in ("xyzv", "xyz"):
    _, rows = wide(lambda i, n, p: p, shares, None, parts=parts)
    empty = ",".join(["0.0"] * 33 * len(parts))
    write(f"landmarks-{33 * len(parts)}-numbers.csv", "\n".join(rows[:4] + [empty] + rows[4:]) + "\n")
    CASES.append("\n".join([
        "[[case]]", f'file = "landmarks-{33 * len(parts)}-numbers.csv"', f"options = {{ {SIZE} }}",
        'reader = "landmarks33-csv"', 'layout = "landmarks-33"', f"frames = {FRAMES + 1}", "within = 0.02", "check = [",
        *[f'    {{ frame = {frame}, joint = "elbow-right", picture = {[round(float(v), 4) for v in pixels(BODIES[source]["right_elbow"])]} }},'
          for frame, source in ((0, 0), (3, 3), (5, 4), (12, 11))],
        '    { frame = 4, joint = "elbow-right", missing = true },', "]"]))

# ---- depth cameras -------------------------------------------------------------------------------
KINECT = {"SpineBase": None, "SpineMid": None, "Neck": None, "Head": None, "ShoulderLeft": "left_shoulder",
          "ElbowLeft": "left_elbow", "WristLeft": "left_wrist", "HandLeft": "left_wrist", "ShoulderRight": "right_shoulder",
          "ElbowRight": "right_elbow", "WristRight": "right_wrist", "HandRight": "right_wrist", "HipLeft": "left_hip",
          "KneeLeft": "left_knee", "AnkleLeft": "left_ankle", "FootLeft": "left_ankle", "HipRight": "right_hip",
          "KneeRight": "right_knee", "AnkleRight": "right_ankle", "FootRight": "right_ankle", "SpineShoulder": "neck",
          "HandTipLeft": "left_wrist", "ThumbLeft": "left_wrist", "HandTipRight": "right_wrist",
          "ThumbRight": "right_wrist"}
AZURE = ["PELVIS", "SPINE_NAVEL", "SPINE_CHEST", "NECK", "CLAVICLE_LEFT", "SHOULDER_LEFT", "ELBOW_LEFT", "WRIST_LEFT",
         "HAND_LEFT", "HANDTIP_LEFT", "THUMB_LEFT", "CLAVICLE_RIGHT", "SHOULDER_RIGHT", "ELBOW_RIGHT", "WRIST_RIGHT",
         "HAND_RIGHT", "HANDTIP_RIGHT", "THUMB_RIGHT", "HIP_LEFT", "KNEE_LEFT", "ANKLE_LEFT", "FOOT_LEFT", "HIP_RIGHT",
         "KNEE_RIGHT", "ANKLE_RIGHT", "FOOT_RIGHT", "HEAD", "NOSE", "EYE_LEFT", "EAR_LEFT", "EYE_RIGHT", "EAR_RIGHT"]
DISTANCE = 2.2


def centre(one, name):
    plain = name.lower().replace("_", "")
    heights = {"spinebase": 0.0, "pelvis": 0.0, "spinemid": 0.24, "spinenavel": 0.18, "spinechest": 0.32, "neck": 0.49,
               "head": 0.66, "spineshoulder": 0.45, "nose": 0.64}
    if plain == "nose":
        return one["nose"]
    if plain in heights:
        return np.array([0.0, heights[plain], 0.0])
    side = "left" if "left" in plain else "right"
    part = plain.replace(side, "")
    part = {"hand": "wrist", "handtip": "wrist", "thumb": "wrist", "foot": "ankle"}.get(part, part)
    return one[f"{side}_{part}"]


def kinect_axes(point):
    """Metres: to the camera's left, up, away from it."""
    return [-point[0], point[1], DISTANCE - point[2]]


def azure_axes(point):
    """Millimetres: to the camera's right, down, away from it."""
    return [1000 * point[0], -1000 * point[1], 1000 * (DISTANCE - point[2])]


def away(point):
    return [point[0], point[1], point[2] - DISTANCE]


def states(name, frame):
    if name == "WristRight" and frame == 3:
        return 0
    return 1 if name in ("WristLeft", "HandLeft") else 2


THE_WRIST = [(3, "right_wrist")]
lines = ["Frame,Timestamp," + ",".join(f"{n}_{p}" for n in KINECT for p in ("X", "Y", "Z", "TrackingState"))]
for frame, one in enumerate(BODIES):
    cells = [str(frame), str(round(frame * 1000 / RATE))]
    for name in KINECT:
        cells += [fmt(v) for v in kinect_axes(centre(one, name))] + [str(states(name, frame))]
    lines.append(",".join(cells))
write("kinect-wide.csv", "\n".join(lines) + "\n")
case("kinect-wide.csv", "tidy-csv", "kinect-25", 2e-4, space=True, move=away, missing=THE_WRIST, notes=["read/axes-assumed"])
lines = ["frame;" + ";".join(f"{n}{p}" for n in KINECT for p in "XYZ")]
for frame, one in enumerate(BODIES):
    lines.append(";".join([str(frame)] + [fmt(v).replace(".", ",") for n in KINECT for v in kinect_axes(centre(one, n))]))
write("kinect-wide-joined.csv", "\ufeff" + "\r\n".join(lines) + "\r\n")
case("kinect-wide-joined.csv", "tidy-csv", "kinect-25", 2e-4, space=True, move=away)
word = {0: "NotTracked", 1: "Inferred", 2: "Tracked"}
lines = ["frame,time_s,JointType,X,Y,Z,TrackingState"]
for frame, one in enumerate(BODIES):
    for name in KINECT:
        lines.append(",".join([str(frame), fmt(frame / RATE), name] + [fmt(v) for v in kinect_axes(centre(one, name))]
                              + [word[states(name, frame)]]))
write("kinect-long.csv", "\n".join(lines) + "\n")
case("kinect-long.csv", "tidy-csv", "kinect-25", 2e-4, space=True, move=away, missing=THE_WRIST)
lines = ["frame,joint_id,x,y,z,state"]
for frame, one in enumerate(BODIES):
    for i, name in enumerate(KINECT):
        lines.append(",".join([str(frame), str(i)] + [fmt(v) for v in kinect_axes(centre(one, name))] + [str(states(name, frame))]))
write("kinect-long-numbered.csv", "\n".join(lines) + "\n")
case("kinect-long-numbered.csv", "tidy-csv", "kinect-25", 2e-4, space=True, move=away, missing=THE_WRIST)

CLAVICLES = CHECKED + ["left_clavicle", "right_clavicle", "nose"]
lines = ["timestamp_usec,body_id," + ",".join(f"{n}_{p}" for n in AZURE for p in ("x", "y", "z", "confidence_level"))]
for frame, one in enumerate(BODIES):
    cells = [str(round(frame * 1e6 / RATE)), "1"]
    for name in AZURE:
        cells += [fmt(v, 1) for v in azure_axes(centre(one, name))] + ["0" if name == "WRIST_RIGHT" and frame == 3 else "2"]
    lines.append(",".join(cells))
write("azure-wide.csv", "\n".join(lines) + "\n")
case("azure-wide.csv", "tidy-csv", "azure-32", 2e-4, space=True, move=away, missing=THE_WRIST, checked=CLAVICLES,
     notes=["read/axes-assumed", "read/units-assumed", "read/clavicle-assumed"])
lines = ["frame,joint,pos_x,pos_y,pos_z,confidence"]
for frame, one in enumerate(BODIES):
    for name in AZURE:
        lines.append(",".join([str(frame), name.replace("LEFT", "L").replace("RIGHT", "R")]
                              + [fmt(v, 1) for v in azure_axes(centre(one, name))] + ["0" if name == "WRIST_RIGHT" and frame == 3 else "2"]))
write("azure-long.csv", "\n".join(lines) + "\n")
case("azure-long.csv", "tidy-csv", "azure-32", 2e-4, space=True, move=away, missing=THE_WRIST, checked=CLAVICLES)

frames = [{"bodies": [{"body_id": 1, "joint_positions": [[round(v, 1) for v in azure_axes(centre(one, n))] for n in AZURE]}],
           "frame_id": frame, "num_bodies": 1, "timestamp_usec": round(frame * 1e6 / RATE)} for frame, one in enumerate(BODIES)]
frames.insert(0, {"bodies": [], "frame_id": -1, "num_bodies": 0, "timestamp_usec": -33333})
write("azure-positions.json", json.dumps({"bone_list": [["PELVIS", "SPINE_NAVEL"]], "frames": frames[1:], "joint_names": AZURE}))
case("azure-positions.json", "kinect-json", "azure-32", 2e-4, space=True, move=away, checked=CLAVICLES)
frames = [{"frame": frame, "bodies": [{"id": 7, "joints": {n: {"position": dict(zip("xyz", [round(v) for v in azure_axes(centre(one, n))])),
           "confidence": 0 if n == "WRIST_RIGHT" and frame == 3 else 2} for n in AZURE[:27]}}]} for frame, one in enumerate(BODIES)]
write("azure-by-name.json", json.dumps({"frames": frames}, separators=(",", ":")))
case("azure-by-name.json", "kinect-json", "azure-32", 6e-4, space=True, move=away, missing=THE_WRIST, checked=CLAVICLES[:-1])
frames = [{"bodies": [{"bodyIndex": 2, "tracked": True, "trackingId": "72057594", "joints": [
           {**dict(zip(("cameraX", "cameraY", "cameraZ"), [round(v, 4) for v in kinect_axes(centre(one, n))])),
            "trackingState": states(n, frame)} for n in KINECT]}, {"bodyIndex": 0, "tracked": False}]} for frame, one in enumerate(BODIES)]
write("kinect-list.json", json.dumps(frames, separators=(",", ":")))
case("kinect-list.json", "kinect-json", "kinect-25", 2e-4, space=True, move=away, missing=THE_WRIST)
frames = [{"Timestamp": round(frame * 1000 / RATE), "Bodies": [{"TrackingId": 5, "Joints": [
           {"JointType": n, "Position": dict(zip("XYZ", [round(v, 3) for v in kinect_axes(centre(one, n))])),
            "TrackingState": word[states(n, frame)]} for n in list(KINECT)[:19]]}]} for frame, one in enumerate(BODIES)]
write("kinect-named.json", json.dumps({"Frames": frames}, separators=(",", ":")))
case("kinect-named.json", "kinect-json", "kinect-25", 6e-4, space=True, move=away, missing=THE_WRIST)

# ---- TRC ---------------------------------------------------------------------------------------------
MARKERS = ["left_shoulder", "right_shoulder", "right_elbow", "right_wrist", "left_hip", "right_hip", "c7"]


def trc(separator="\t", unit="mm", per_metre=1000, frames=FRAMES, markers=None, blank=True, pad=0, axes=True, side_by_side=False,
        names=MARKERS, missing=None):
    one = lambda cells: separator.join(str(cell) for cell in cells) + separator * pad
    gap = [] if separator == " " or side_by_side else ["", ""]
    lines = [one(["PathFileType", 4, "(X/Y/Z)", "invented.trc"]),
             one(["DataRate", "CameraRate", "NumFrames", "NumMarkers", "Units", "OrigDataRate", "OrigDataStartFrame", "OrigNumFrames"]),
             one([RATE, RATE, frames, markers if markers is not None else len(names), unit, RATE, 1, frames]),
             one(["Frame#", "Time"] + [cell for name in names for cell in [name] + gap])]
    if axes:
        lead = [] if separator == " " else ["", ""]
        lines.append(one(lead + [f"{axis}{i + 1}" for i in range(len(names)) for axis in "XYZ"]))
    if blank:
        lines.append("")
    for frame, points in enumerate(BODIES):
        cells = [frame + 1, fmt(frame / RATE)]
        for name in names:
            at = points.get(MARKERS[names.index(name)], np.array([0.0, 0.52, -0.06])) * per_metre
            gone = frame == 3 and name == names[3]
            cells += missing if gone and missing else [fmt(v, 4) for v in at]
        lines.append(one(cells))
    return "\n".join(lines) + "\n"


TRC = ["left_shoulder", "right_elbow", "right_wrist", "left_hip"]
write("trc-tabs.trc", trc(missing=["", "", ""]))
case("trc-tabs.trc", "trc", "spine-37", 1e-4, space=True, missing=THE_WRIST)
write("trc-commas.trc", trc(",", "cm", 100, pad=6, blank=False, missing=["0.0", "0.0", "0.0"], frames=652, markers=9))
case("trc-commas.trc", "trc", "spine-37", 1e-4, space=True, missing=THE_WRIST, notes=["read/frame-count", "read/marker-count"])
write("trc-spaces.trc", trc(" ", "m", 1, pad=3, missing=["NaN", "NaN", "NaN"]))
case("trc-spaces.trc", "trc", "spine-37", 1e-4, space=True, missing=THE_WRIST)
write("trc-side-by-side.trc", trc(side_by_side=True, axes=False, blank=False))
case("trc-side-by-side.trc", "trc", "spine-37", 1e-4, space=True)
write("trc-own-names.trc", trc(names=["LSHO", "RSHO", "S1:RELB", "RWRA", "LASI", "RASI", "C7"]))
case("trc-own-names.trc", "trc", "tidy", 1e-4, space=True,
     options='map = [["left_shoulder", "lsho"], ["right_shoulder", "rsho"], ["right_elbow", "r_elb"], ["right_wrist", "RWRA"], ["left_hip", "LASI"], ["right_hip", "RASI"]]')

# ---- named points in general ---------------------------------------------------------------------------
HEAD = {",": ["frame", "time", "point", "x", "y", "score"], ";": ["Frame", "Timestamp_ms", "Keypoint", "X", "Y", "Confidence"]}
lines = [",".join(HEAD[","])]
for frame, one in enumerate(BODIES):
    for name in KNOWN:
        x, y = pixels(one[name])
        gone = frame == 3 and name == "right_wrist"
        lines.append(",".join([str(frame), fmt(frame / RATE), name, "NaN" if gone else fmt(x, 2), "null" if gone else fmt(y, 2), "" if gone else "0.9"]))
write("tidy-long.csv", "\n".join(lines) + "\n")
case("tidy-long.csv", "tidy-csv", "coco-17", 0.01, missing=THE_WRIST)
lines = [";".join(f'"{cell}"' for cell in HEAD[";"])]
for frame, one in enumerate(BODIES):
    for name in KNOWN:
        x, y = (fmt(v, 2).replace(".", ",") for v in pixels(one[name]))
        lines.append(";".join([str(frame), fmt(frame * 1000 / RATE, 1).replace(".", ","), f'"{name.replace("_", " ").title()}"', f'"{x}"', y, "0,9"]))
write("tidy-long-semicolons.csv", "\ufeff" + "\r\n".join(lines) + "\r\n")
case("tidy-long-semicolons.csv", "tidy-csv", "coco-17", 0.01)
for sign, score in (("_", "conf"), (".", "likelihood"), (":", "score")):
    lines = ["frame,time," + ",".join(f"{n.title()}{sign}{p}" for n in KNOWN for p in ("X", "Y", score))]
    for frame, one in enumerate(BODIES):
        lines.append(",".join([str(frame), fmt(frame / RATE)] + [cell for n in KNOWN for cell in [*(fmt(v, 2) for v in pixels(one[n])), "0.9"]]))
    write(f"tidy-wide-{score}.csv", "\n".join(lines) + "\n")
    case(f"tidy-wide-{score}.csv", "tidy-csv", "coco-17", 0.01)
lines = ["frame," + ",".join(f"{n}_{p}" for n in OWN for p in "xy")]
for frame, one in enumerate(BODIES):
    lines.append(",".join([str(frame)] + [fmt(v, 2) for n in OWN.values() for v in pixels(one[n])]))
write("tidy-wide-own-names.csv", "\n".join(lines) + "\n")
case("tidy-wide-own-names.csv", "tidy-csv", "tidy", 0.01, options=OWN_MAP)
COCO = ["nose", "left_eye", "right_eye", "left_ear", "right_ear", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
        "left_wrist", "right_wrist", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle"]
lines = ["frame,keypoint_id,x,y,c"]
for frame, one in enumerate(BODIES):
    for i, name in enumerate(COCO):
        lines.append(",".join([str(frame), str(i)] + [fmt(v, 2) for v in pixels(one[name])] + ["0.9"]))
write("tidy-long-numbered.csv", "\n".join(lines) + "\n")
case("tidy-long-numbered.csv", "tidy-csv", "coco-17", 0.01)

write("cases.toml", "# What every table of this folder must give; written by make.py with the files.\n\n" + "\n\n".join(CASES) + "\n")
print(len(CASES), "cases")
