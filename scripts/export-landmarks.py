#!/usr/bin/env python3
"""Runs an open pose estimator on a video, or on one picture, and writes its landmarks as JSON.

    export-landmarks.py VIDEO --out track.json
    export-landmarks.py PICTURE --still 45 --out track.json

In: a video that OpenCV can decode, or a picture of which a slow zoom is made (45 frames of it with --still 45).
Out: one object with `fps`, `width`, `height` and `frames`, each with `frame`, `timestamp_ms`, `landmarks` (x and
y as shares of the picture, z, visibility) and `worldLandmarks` (metres about the middle of the hips, y down,
z away from the camera); both empty in a frame in which nobody was found. Needs the packages in
`scripts/estimator.txt`, which carry the estimator's weights; nothing is fetched when it runs.
"""
import argparse
import json
import os
import sys

os.environ.setdefault("GLOG_minloglevel", "2")
import cv2
from mediapipe.python.solutions.pose import Pose

# Zoom over a whole clip made of one picture: enough that no frame equals the one before.
ZOOM = 0.05
# Rate of a clip made of one picture.
STILL_RATE_HZ = 30.0


def video(path):
    """Frames of a video with their time stamps in ms, and its rate."""
    capture = cv2.VideoCapture(path)
    if not capture.isOpened():
        sys.exit(f"error: {path} cannot be decoded as a video\n   try giving the file as the phone wrote it")
    rate = capture.get(cv2.CAP_PROP_FPS)

    def frames():
        while True:
            good, frame = capture.read()
            if not good:
                return
            # After the frame was read: before it, the stamp is that of the frame before.
            yield capture.get(cv2.CAP_PROP_POS_MSEC), frame

    return frames(), rate if rate and rate > 0 else None


def still(path, count):
    """A slow zoom over a picture."""
    picture = cv2.imread(path)
    if picture is None:
        sys.exit(f"error: {path} cannot be read as a picture\n   try a PNG or JPEG file")
    height, width = picture.shape[:2]

    def frames():
        for index in range(count):
            zoom = 1.0 + ZOOM * index / max(count - 1, 1)
            matrix = cv2.getRotationMatrix2D((width / 2, height / 2), 0.0, zoom)
            yield 1000.0 * index / STILL_RATE_HZ, cv2.warpAffine(picture, matrix, (width, height))

    return frames(), STILL_RATE_HZ


def points(found):
    """A list of landmarks as numbers with names; empty if nobody was found."""
    if found is None:
        return []
    return [
        {"x": point.x, "y": point.y, "z": point.z, "visibility": point.visibility}
        for point in found.landmark
    ]


def main():
    """Reads the arguments, runs the estimator and writes the file whole or not at all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("source", help="video, or picture with --still")
    parser.add_argument("--still", type=int, metavar="FRAMES", help="make that many frames of one picture")
    parser.add_argument("--mirrored", action="store_true", help="the video is a mirror image, as selfie videos are")
    parser.add_argument("--out", required=True, help="JSON file to write")
    args = parser.parse_args()
    frames, rate = still(args.source, args.still) if args.still else video(args.source)
    written, size, found = [], None, 0
    with Pose(model_complexity=1, smooth_landmarks=True) as pose:
        for number, (stamp_ms, frame) in enumerate(frames):
            size = size or (frame.shape[1], frame.shape[0])
            result = pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
            found += result.pose_landmarks is not None
            written.append(
                {
                    "frame": number,
                    "timestamp_ms": stamp_ms,
                    "landmarks": points(result.pose_landmarks),
                    "worldLandmarks": points(result.pose_world_landmarks),
                }
            )
    if not written:
        sys.exit(f"error: {args.source} holds no frame that can be decoded\n   try giving the file as the phone wrote it")
    clip = {"width": size[0], "height": size[1], "mirrored": args.mirrored, "frames": written}
    if rate:
        clip = {"fps": rate, **clip}
    beside = f"{args.out}.part"
    with open(beside, "w", encoding="utf-8") as file:
        json.dump(clip, file, separators=(",", ":"))
    os.replace(beside, args.out)
    print(f"{len(written)} frames, a person in {found}: {args.out}", file=sys.stderr)


if __name__ == "__main__":
    main()
