#!/usr/bin/env python3
"""Makes the samples of this folder: invented people, as 2-D estimators export them.

Nobody was filmed. A stick figure stands before a camera and raises the right arm sideways; every file holds
the same movement in another form. The forms are written by hand from the estimators' sources and documents,
with nothing of the program under test. Standard library only; the same files come out each time.

    python3 make.py
"""

import json
import math
import shutil
from pathlib import Path

HERE = Path(__file__).parent
FRAMES = 16
WIDTH, HEIGHT = 640, 480

COCO = (
    "nose left_eye right_eye left_ear right_ear left_shoulder right_shoulder left_elbow right_elbow left_wrist "
    "right_wrist left_hip right_hip left_knee right_knee left_ankle right_ankle"
).split()
# Orders of the other lists; a name that the figure lacks is a point without a place.
HALPE = COCO + (
    "head neck hip left_big_toe right_big_toe left_small_toe right_small_toe left_heel right_heel"
).split()
FEET = "left_big_toe left_small_toe left_heel right_big_toe right_small_toe right_heel".split()
BODY_25 = (
    "nose neck right_shoulder right_elbow right_wrist left_shoulder left_elbow left_wrist hip right_hip "
    "right_knee right_ankle left_hip left_knee left_ankle right_eye left_eye right_ear left_ear"
).split() + "left_big_toe left_small_toe left_heel right_big_toe right_small_toe right_heel".split()
BODY_25B = COCO + ["neck_top", "head"] + FEET
COCO_18 = BODY_25[:8] + (
    "right_hip right_knee right_ankle left_hip left_knee left_ankle right_eye left_eye right_ear left_ear"
).split()
MPI_15 = ["head", "neck"] + BODY_25[2:8] + BODY_25[9:15] + ["chest"]
H36M = (
    "hip right_hip right_knee right_ankle left_hip left_knee left_ankle chest neck neck_top head left_shoulder "
    "left_elbow left_wrist right_shoulder right_elbow right_wrist"
).split()
HAND = [f"hand_{k}" for k in range(21)]
WHOLE = COCO + FEET + ["face"] * 68 + [f"left_{k}" for k in HAND] + [f"right_{k}" for k in HAND]
HALPE_136 = HALPE + WHOLE[23:]
HALPE_68 = HALPE + WHOLE[91:]
SPINE_37 = HALPE + (
    "spine_1 spine_2 spine_3 spine_4 spine_5 left_lat right_lat left_clavicle right_clavicle neck_2 neck_top"
).split()
SYNTH_52 = COCO + (
    "sternum right_acromion left_acromion right_elbow_l left_elbow_l right_elbow_m left_elbow_m right_wrist_l "
    "left_wrist_l right_wrist_m left_wrist_m"
).split() + ["hip"] * 20 + ["neck"] + ["chest"] * 3


def figure(frame, away=0.0):
    """Points in pixels, x right, y down. `away` moves the whole figure to the right."""
    angle = math.radians(10 + 140 * frame / (FRAMES - 1))
    at = {
        "nose": (300, 100), "left_eye": (308, 92), "right_eye": (292, 92), "left_ear": (318, 96),
        "right_ear": (282, 96), "head": (300, 70), "neck": (300, 140), "neck_top": (300, 125),
        "left_shoulder": (340, 150), "right_shoulder": (260, 150), "left_elbow": (348, 215),
        "left_wrist": (350, 275), "left_hip": (325, 290), "right_hip": (275, 290), "hip": (300, 288),
        "left_knee": (326, 370), "right_knee": (274, 370), "left_ankle": (327, 440), "right_ankle": (273, 440),
        "chest": (300, 210), "sternum": (300, 165), "face": (300, 105),
    }
    for side, knee in (("left", 327), ("right", 273)):
        out = 1 if side == "left" else -1
        at |= {
            f"{side}_heel": (knee, 448), f"{side}_big_toe": (knee + 6 * out, 458),
            f"{side}_small_toe": (knee + 14 * out, 456), f"{side}_lat": (300 + 35 * out, 230),
            f"{side}_clavicle": (300 + 20 * out, 150), f"{side}_acromion": (300 + 42 * out, 146),
        }
    for k in range(1, 6):
        at[f"spine_{k}"] = (300, 285 - 25 * k)
    at["neck_2"] = (300, 132)
    for joint, length in (("elbow", 65), ("wrist", 125)):
        at[f"right_{joint}"] = (260 - length * math.sin(angle), 150 + length * math.cos(angle))
    for side in ("left", "right"):
        x, y = at[f"{side}_wrist"]
        for k in range(21):
            at[f"{side}_hand_{k}"] = (x + k, y + 5)
        for joint in ("elbow", "wrist"):
            x, y = at[f"{side}_{joint}"]
            at[f"{side}_{joint}_l"] = (x - 4, y)
            at[f"{side}_{joint}_m"] = (x + 4, y)
    return {name: (round(x + away, 2), round(y, 2)) for name, (x, y) in at.items()}


def triples(names, frame, score=0.9, away=0.0):
    """[[x, y, score], ...]; the left ankle is never seen."""
    at = figure(frame, away)
    return [[*at[name], 0.1 if name == "left_ankle" else score] for name in names]


def flat(names, frame, score=0.9, away=0.0):
    return [value for point in triples(names, frame, score, away) for value in point]


def write(name, value, **more):
    path = HERE / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps(value, separators=(",", ":"), **more) + "\n")


def clear(name):
    shutil.rmtree(HERE / name, ignore_errors=True)
    (HERE / name).mkdir()


def mmpose():
    def instance(names, frame, away=0.0, score=0.9):
        points = triples(names, frame, score, away)
        return {
            "keypoints": [p[:2] for p in points],
            "keypoint_scores": [p[2] for p in points],
            "bbox": [[200.0 + away, 60.0, 360.0 + away, 460.0]],
            "bbox_score": 0.95,
        }

    def meta(names):
        numbered = {str(k): n for k, n in enumerate(names)}
        return {
            "dataset_name": "coco",
            "num_keypoints": len(names),
            "keypoint_id2name": numbered,
            "keypoint_name2id": {n: k for k, n in enumerate(names)},
            "upper_body_ids": list(range(11)),
        }

    frames = range(FRAMES)
    # Names in an order of their own: they count, not the number. Frame 6 holds nobody, frame 3 two people.
    names = list(reversed(COCO))
    listed = []
    for f in frames:
        people = [] if f == 5 else [instance(names, f, score=1.3)]
        if f == 2:
            people.insert(0, instance(names, f, away=250.0))
        listed.append({"frame_id": f + 1, "instances": people})
    write("mmpose-demo.json", {"meta_info": meta(names), "instance_info": listed})
    for name, order in (("17", COCO), ("26", HALPE), ("133", WHOLE), ("136", HALPE_136)):
        some = frames if len(order) < 100 else range(10)
        write(
            f"mmpose-inferencer-{name}.json",
            [{"frame_id": f, "instances": [instance(order, f)]} for f in some],
        )
    lifted = []
    for f in frames:
        at, points = figure(f), []
        for name in H36M:
            # Camera space: x right, y down, z away; the right arm 0.2 m nearer.
            x, y = (at[name][0] - 300) / 220, (at[name][1] - 290) / 220
            z = -0.2 if name in ("right_elbow", "right_wrist") else 0.0
            points.append([-x, z, -y])
        low = min(p[2] for p in points)
        points = [[round(x, 4), round(y, 4), round(z - low, 4)] for x, y, z in points]
        listed = {"keypoints": points, "keypoint_scores": [1.0] * 17}
        lifted.append({"frame_id": f, "instances": [listed]})
    write("mmpose-lifted.json", lifted)
    clear("mmpose-pictures")
    for f in frames:
        write(f"mmpose-pictures/take2_{f:03d}.json", [instance(COCO, f)])


def alphapose():
    frames = range(FRAMES)

    def entry(names, f, idx, **more):
        return {
            "image_id": f"{f}.jpg", "category_id": 1, "keypoints": flat(names, f, 1.05), "score": 2.9,
            "box": [200.0, 60.0, 160.0, 400.0], "idx": idx,
        } | more

    # Ids in their three spellings; frame 7 holds nobody and is absent.
    spelled = [4, [4.0], [[4.0], [9.0]]]
    write("alphapose-17.json", [entry(COCO, f, spelled[f % 3]) for f in frames if f != 7])
    # Without tracking every id is 0, also of two people of one frame.
    both = [entry(COCO, f, 0, keypoints=flat(COCO, f, 0.9, a)) for f in frames for a in (0.0, 250.0)]
    write("alphapose-untracked.json", both)
    for name, order in (("26", HALPE), ("68", HALPE_68), ("133", WHOLE), ("136", HALPE_136)):
        some = frames if len(order) < 100 else range(10)
        write(f"alphapose-{name}.json", [entry(order, f, 1) for f in some])
    older = [entry(COCO, f, 0) for f in frames]
    for one in older:
        del one["box"], one["idx"]
    write("alphapose-older.json", older)
    space = [[0.0, 0.0, 0.0]] * 24
    write("alphapose-space.json", [entry(COCO, f, 1, pred_xyz_jts=space) for f in frames])
    version = {"version": "AlphaPose v0.3"}
    cmu = {f"{f}.jpg": version | {"bodies": [{"joints": flat(COCO_18, f)}]} for f in frames}
    write("alphapose-cmu.json", cmu)
    people = {f"{f}.jpg": version | {"people": [{"pose_keypoints_2d": flat(COCO_18, f)}]} for f in frames}
    write("alphapose-open.json", people)
    tracked = {
        f"frames/{f:05d}.png": [{"keypoints": flat(COCO, f), "scores": 2.5, "idx": 1}] for f in frames
    }
    write("alphapose-tracked.json", tracked)
    clear("alphapose-cmu-pictures")
    for f in frames:
        write(f"alphapose-cmu-pictures/{f}.json", cmu[f"{f}.jpg"])


def coco():
    frames = range(FRAMES)
    images = [{"id": 100 + f, "file_name": f"{f:06d}.jpg", "width": WIDTH, "height": HEIGHT} for f in frames]

    def annotation(f, names, mark=2):
        return {
            "id": f, "image_id": 100 + f, "category_id": 1, "iscrowd": 0, "area": 64000, "num_keypoints": 17,
            "keypoints": [v for x, y, c in triples(names, f) for v in (x, y, mark if c > 0.5 else 0)],
            "bbox": [200, 60, 160, 400],
        }

    parts = {
        "foot_kpts": FEET,
        "lefthand_kpts": [f"left_{k}" for k in HAND],
        "righthand_kpts": [f"right_{k}" for k in HAND],
    }
    whole = []
    for f in range(12):
        one = annotation(f, COCO)
        for key, names in parts.items():
            one[key] = flat(names, f, 0.8)
        # One picture without a hand: its list is left out.
        if f == 4:
            del one["lefthand_kpts"]
        whole.append(one)
    categories = [{"id": 1, "name": "person", "keypoints": COCO}]
    write(
        "coco-whole-body.json",
        {"images": images[:12], "annotations": whole, "categories": categories},
    )
    for name, order in (
        ("26", HALPE), ("133", WHOLE), ("136", HALPE_136), ("37", SPINE_37), ("52", SYNTH_52),
    ):
        some = frames if len(order) < 100 else range(10)
        write(
            f"coco-results-{name}.json",
            [{"image_id": f, "category_id": 1, "keypoints": flat(order, f), "score": 0.9} for f in some],
        )


def yolo():
    frames = range(FRAMES)

    def line(f, tail="", with_v=True, names=COCO, away=0.0):
        left, right = 110 + away, 380 + away
        numbers = [(left + right) / 2 / WIDTH, 260 / HEIGHT, (right - left) / WIDTH, 430 / HEIGHT]
        for x, y, v in triples(names, f, 0.9, away):
            x, y = (x / WIDTH, y / HEIGHT) if v > 0.5 else (0, 0)
            numbers += [x, y, v] if with_v else [x, y]
        return " ".join(["0", *(f"{n:g}" for n in numbers), *tail.split()])

    def folder(name, lines, skip=(), head=""):
        clear(name)
        for f in frames:
            if f not in skip:
                (HERE / name / f"clip_{f + 1}.txt").write_text(head + "\n".join(lines(f)) + "\n")

    folder("yolo-labels", lambda f: [line(f)], skip=(3, 4))
    folder("yolo-labels-bare", lambda f: [line(f, with_v=False)])
    folder("yolo-labels-confidence", lambda f: [line(f, tail="0.87")])
    folder("yolo-labels-id", lambda f: [line(f, tail="1", with_v=False)])
    # A second run appended the same lines; two people with ids that do not keep their order.
    def doubled(f):
        both = [line(f, tail="0.9 1"), line(f, tail="0.8 2", away=240.0)]
        return (both if f % 2 else both[::-1]) * 2
    folder("yolo-labels-doubled", doubled, head="# class, box and points\n")
    (HERE / "yolo-labels-doubled" / "classes.txt").write_text("person\n")
    # Twenty-six points without v are as many numbers as seventeen with v and a confidence.
    folder("yolo-labels-26", lambda f: [line(f, with_v=False, names=HALPE)])
    one = "\n".join(line(f) for f in frames)
    (HERE / "yolo-single.txt").write_text("# one line for each frame\n" + one + "\n")

    def result(f, share=False, **more):
        points = triples(COCO, f)
        per = (WIDTH, HEIGHT) if share else (1, 1)
        return {
            "name": "person", "class": 0, "confidence": 0.91,
            "box": {"x1": 110.0, "y1": 45.0, "x2": 380.0, "y2": 475.0},
            "keypoints": {
                "x": [round(p[0] / per[0], 5) for p in points],
                "y": [round(p[1] / per[1], 5) for p in points],
                "visible": [p[2] for p in points],
            },
        } | more

    write("yolo-results.json", [[] if f == 2 else [result(f, track_id=3)] for f in frames])
    write("yolo-results-shares.json", [[result(f, share=True)] for f in frames])
    clear("yolo-results")
    for f in frames:
        write(f"yolo-results/take2_{f}.json", [] if f == 0 else [result(f)])


def movenet():
    frames = range(FRAMES)

    def pose(f, names=COCO):
        points = [{"y": y, "x": x, "score": c, "name": n} for n, (x, y, c) in zip(names, triples(names, f))]
        return {"keypoints": points, "score": 0.8}

    def camel(name):
        first, *rest = name.split("_")
        return first + "".join(word.capitalize() for word in rest)

    def first_version(f):
        points = [
            {"score": c, "part": camel(n), "position": {"x": x, "y": y}}
            for n, (x, y, c) in zip(COCO, triples(COCO, f))
        ]
        return {"score": 0.8, "keypoints": points}

    # A list of poses for each frame; nobody in frame 4; points in another order in frame 5.
    order = list(reversed(COCO))
    write("movenet-poses.json", [[] if f == 4 else [pose(f, order if f == 5 else COCO)] for f in frames])
    stamped = [{"timestamp_ms": 40 * f, "poses": [pose(f)]} for f in frames]
    write("movenet-stamped.json", {"model": "lightning", "frames": stamped})
    write("posenet-first.json", [first_version(f) for f in frames])

    def shares(f, turned=True):
        rows = [[y / HEIGHT, x / WIDTH, c] for x, y, c in triples(COCO, f)]
        return [[round(v, 5) for v in (row if turned else [row[1], row[0], row[2]])] for row in rows]

    write("movenet-dump.json", [shares(f) for f in frames])
    write("movenet-dump-nested.json", [[[shares(f)]] for f in frames])
    write("movenet-dump-xy.json", [shares(f, turned=False) for f in frames])
    # A person who lies: the trunk tells the wrong order, so that it must be stated.
    lying = [[[x, y, c] for y, x, c in shares(f)] for f in frames]
    write("movenet-dump-lying.json", lying)
    write("movenet-dump-pixels.json", [[[y, x, c] for x, y, c in triples(COCO, f)] for f in frames])

    def several(f):
        rows = [[v for point in shares(f) for v in point] + [0.1, 0.3, 0.95, 0.6, 0.7]]
        return [rows + [[0.0] * 56] * 5]

    write("movenet-multipose.json", [several(f) for f in range(FRAMES)])


def openpose():
    frames = range(FRAMES)

    def person(f, names, **more):
        points = [v for x, y, c in triples(names, f) for v in ((x, y, c) if c > 0.5 else (0, 0, 0))]
        return {
            "person_id": [-1], "pose_keypoints_2d": points, "face_keypoints_2d": [],
            "hand_left_keypoints_2d": [], "hand_right_keypoints_2d": [], "pose_keypoints_3d": [],
        } | more

    def folder(name, frame, file="clip_{:012d}_keypoints.json"):
        clear(name)
        for f in frames:
            write(f"{name}/{file.format(f)}", frame(f))

    def one(f, names, **more):
        return {"version": 1.3, "people": [person(f, names, **more)]}

    folder("openpose-25b", lambda f: one(f, BODY_25B))
    folder("openpose-15", lambda f: one(f, MPI_15))
    # Pictures by name; two people whose order changes, told apart by the tracker.
    def tracked(f):
        both = [person(f, BODY_25, person_id=[7]), person(f, BODY_25, person_id=[2])]
        both[1]["pose_keypoints_2d"] = flat(BODY_25, 0, 0.9, 250.0)
        return {"version": 1.3, "people": both if f % 2 else both[::-1]}
    folder("openpose-tracked", tracked, "IMG_2024_{}_keypoints.json")
    # Two cameras in one folder.
    folder("openpose-views", lambda f: one(f, BODY_25))
    for f in frames:
        write(f"openpose-views/clip_{f:012d}_keypoints_1.json", one(0, BODY_25))
    # Points in space, millimetres, y down, z away from the first camera; three numbers and a mark.
    def space(f):
        at, numbers = figure(f), []
        for name in BODY_25:
            numbers += [round((at[name][0] - 300) * 4.5, 2), round((at[name][1] - 290) * 4.5, 2), 2500.0, 1]
        return one(f, BODY_25, pose_keypoints_2d=[], pose_keypoints_3d=numbers)
    write("openpose-space.json", [space(f) for f in frames])
    imitated = [
        {
            "people": [{"pose_keypoints_2d": triples(COCO_18, f), "face_keypoints_2d": None}],
            "hand_left_keypoints_2d": [], "face_keypoints_2d": [],
            "canvas_width": WIDTH, "canvas_height": HEIGHT,
        }
        for f in frames
    ]
    write("openpose-imitated.json", imitated)


if __name__ == "__main__":
    for make in (mmpose, alphapose, coco, yolo, movenet, openpose):
        make()
