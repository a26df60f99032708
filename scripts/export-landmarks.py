#!/usr/bin/env python3
"""Runs an open pose estimator on a video, or on one picture, and writes its landmarks as JSON.

    export-landmarks.py VIDEO --out track.json
    export-landmarks.py PICTURE --still 45 --out track.json

In: a video that OpenCV can decode, or a picture of which a slow zoom is made (45 frames of it with --still 45).
Out: one object with `fps` (on the average), `width`, `height`, `mirrored` and `frames`, each with `frame`,
`timestamp_ms` (from the first frame, as in the file), `landmarks` (x and y as shares of the upright picture, z,
visibility) and `worldLandmarks` (metres about the middle of the hips, y down, z away from the camera); both are
empty in a frame in which nobody was found. The file is written whole or not at all. Needs the packages in
`scripts/estimator.txt`, which carry the estimator's weights; nothing is fetched when it runs.
"""
import argparse
import json
import os
import sys
import tempfile

# What the libraries' native parts tell of their own work goes nowhere; this program's words go on to standard error.
sys.stderr = os.fdopen(os.dup(2), "w", buffering=1, encoding="utf-8", errors="replace")
os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
try:
    import cv2
    from mediapipe.python.solutions.pose import Pose
    from tqdm import tqdm
except ImportError as error:
    sys.exit(f"error: {error}\n   try scripts/estimator-venv FOLDER, and FOLDER/bin/python: it has what scripts/estimator.txt lists")

import stamps

# Zoom over a whole clip made of one picture: enough that no frame equals the one before.
ZOOM = 0.05
# Rate of a clip made of one picture.
STILL_RATE_HZ = 30.0


def refuse(what, remedy):
    """Ends the run with what is wrong and what to do."""
    sys.exit(f"error: {what}\n   try {remedy}")


def video(path):
    """Frames of a video, upright, with the decoder's time stamps in ms; and about how many there are."""
    capture = cv2.VideoCapture(path, cv2.CAP_FFMPEG)
    if not capture.isOpened():
        refuse(f"{path} cannot be decoded as a video", "the file as the phone wrote it (MP4, MOV, WebM, MKV)")
    # A phone held upright stores its video lying, with a tag; not every build of the decoder heeds it unasked.
    capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 1)

    def frames():
        while True:
            good, frame = capture.read()
            if not good:
                return
            # After the frame was read: before it, the stamp is that of the frame before.
            yield capture.get(cv2.CAP_PROP_POS_MSEC), frame

    return frames(), max(int(capture.get(cv2.CAP_PROP_FRAME_COUNT)), 0) or None


def still(path, count):
    """A slow zoom over a picture."""
    picture = cv2.imread(path)
    if picture is None:
        refuse(f"{path} cannot be read as a picture", "a PNG or JPEG file")
    height, width = picture.shape[:2]

    def frames():
        for index in range(count):
            zoom = 1.0 + ZOOM * index / max(count - 1, 1)
            matrix = cv2.getRotationMatrix2D((width / 2, height / 2), 0.0, zoom)
            yield 1000.0 * index / STILL_RATE_HZ, cv2.warpAffine(picture, matrix, (width, height))

    return frames(), count


def points(found):
    """A list of landmarks as numbers with names; empty if nobody was found. Rounded to 0.01 pixel or better."""
    if found is None:
        return []
    names = ("x", "y", "z", "visibility")
    return [{name: round(getattr(point, name), 6) for name in names} for point in found.landmark]


def estimate(frames, count):
    """The decoder's stamps, the picture's size, the landmarks of each frame as JSON text, frames with a person."""
    decoded, size, bodies, found = [], None, [], 0
    with Pose(model_complexity=1, smooth_landmarks=True) as pose:
        for stamp_ms, frame in tqdm(frames, total=count, unit="frame", disable=None, leave=False):
            size = size or (frame.shape[1], frame.shape[0])
            result = pose.process(cv2.cvtColor(frame, cv2.COLOR_BGR2RGB))
            found += result.pose_landmarks is not None
            body = {
                "landmarks": points(result.pose_landmarks),
                "worldLandmarks": points(result.pose_world_landmarks),
            }
            decoded.append(stamp_ms)
            # Text takes a tenth of the room that the objects would.
            bodies.append(json.dumps(body, separators=(",", ":"))[1:])
    return decoded, size, bodies, found


def write(out, head, times, bodies):
    """The file, whole or not at all."""
    folder = os.path.dirname(os.path.abspath(out))
    os.makedirs(folder, exist_ok=True)
    part, beside = tempfile.mkstemp(dir=folder, prefix=f".{os.path.basename(out)}.")
    try:
        with open(part, "w", encoding="utf-8") as file:
            file.write(json.dumps(head)[:-1] + ', "frames": [\n')
            rows = (f'{{"frame":{number},"timestamp_ms":{time_ms:.6f},{body}'
                    for number, (time_ms, body) in enumerate(zip(times, bodies)))
            file.write(",\n".join(rows) + "\n]}\n")
        os.chmod(beside, 0o644)
        os.replace(beside, out)
    except BaseException:
        os.unlink(beside)
        raise


def main():
    """Reads the arguments, runs the estimator and writes the file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("source", help="video, or picture with --still")
    parser.add_argument("--still", type=int, metavar="FRAMES", help="make that many frames of one picture")
    parser.add_argument("--mirrored", action="store_true", help="the video is a mirror image, as selfie videos are")
    parser.add_argument("--out", required=True, help="JSON file to write")
    args = parser.parse_args()
    if args.still is not None and args.still < 2:
        parser.error("--still needs at least 2 frames")
    if not os.path.isfile(args.source):
        refuse(f"there is no file {args.source}", "the path of a video file")
    frames, count = still(args.source, args.still) if args.still else video(args.source)
    decoded, size, bodies, found = estimate(frames, count)
    if len(decoded) < 2:
        held = "a single picture" if decoded else "no frame that can be decoded"
        refuse(f"{args.source} holds {held}", "the file as the phone wrote it; --still 45 for a picture")
    if found == 0:
        refuse(f"nobody was found in the {len(decoded)} frames of {args.source}",
               "one person seen from head to hips or more, upright, in good light, nobody else in the picture")
    try:
        times, words = (decoded, "even") if args.still else stamps.settled(decoded, args.source)
    except ValueError as error:
        refuse(f"{args.source}: {error}", "installing ffmpeg, whose ffprobe reads the stamps in the file, or exporting the "
               "video anew on the phone")
    head = {"fps": stamps.rate_hz(times), "width": size[0], "height": size[1], "mirrored": args.mirrored}
    write(args.out, head, times, bodies)
    print(f"{len(times)} frames of {size[0]} x {size[1]}, {head['fps']:.2f} a second on the average, a person in {found}; "
          f"time stamps {words}: {args.out}", file=sys.stderr)


if __name__ == "__main__":
    main()
