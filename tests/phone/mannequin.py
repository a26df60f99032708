"""A shaded mannequin of spheres that raises its right arm at known angles: nobody was filmed.

Axes: x to the person's left, y up, z forward; metres. The camera looks level along the line through the person's
middle, one metre above the floor.
"""
import functools

import numpy

WIDTH, HEIGHT = 540, 960
FOCAL_PX, DISTANCE_M, CAMERA_HEIGHT_M = 1.1 * HEIGHT, 3.4, 1.0
LIGHT = numpy.array([-0.4, 0.6, 0.7]) / numpy.linalg.norm([-0.4, 0.6, 0.7])
# Blue, green, red.
SKIN, SHIRT, TROUSERS, SHOE, HAIR = ([150, 175, 225], [170, 90, 40], [60, 55, 50], [30, 30, 30], [30, 45, 70])
WHITE, PUPIL, LIP = [240, 240, 240], [40, 30, 20], [90, 90, 190]
UPPER_ARM_M, FOREARM_M = 0.29, 0.25


def rod(start, end, first_m, last_m, colour):
    """Spheres from one place to another, close enough to look like one body."""
    start, end = numpy.array(start, float), numpy.array(end, float)
    count = max(int(numpy.linalg.norm(end - start) / 0.006), 2)
    return [(start + (end - start) * t, first_m + (last_m - first_m) * t, colour) for t in numpy.linspace(0, 1, count)]


def still_parts():
    """Everything but the arms."""
    parts = rod((-0.16, 1.40, 0), (0.16, 1.40, 0), 0.065, 0.065, SHIRT) + rod((0, 1.40, 0), (0, 1.55, 0.01), 0.055, 0.052, SKIN)
    for x in numpy.linspace(-0.11, 0.11, 9):
        parts += rod((x, 1.0, 0), (x * 1.15, 1.36, 0), 0.085, 0.09, SHIRT)
        parts += rod((x * 0.82, 0.93, 0), (x * 0.82, 1.0, 0), 0.095, 0.088, TROUSERS)
    parts += rod((0, 1.58, 0.03), (0, 1.68, 0.01), 0.075, 0.09, SKIN) + rod((0, 1.65, 0.098), (0, 1.615, 0.112), 0.01, 0.014, SKIN)
    parts += rod((0, 1.75, 0.03), (0, 1.71, -0.02), 0.05, 0.095, HAIR) + rod((-0.022, 1.585, 0.092), (0.022, 1.585, 0.092), 0.007, 0.007, LIP)
    for side in (-1, 1):
        parts += [((side * 0.032, 1.655, 0.088), 0.014, WHITE), ((side * 0.032, 1.655, 0.098), 0.0075, PUPIL)]
        parts += rod((side * 0.018, 1.678, 0.092), (side * 0.048, 1.68, 0.082), 0.005, 0.004, HAIR)
        parts += rod((side * 0.088, 1.65, 0), (side * 0.09, 1.62, 0), 0.018, 0.012, SKIN)
        parts += rod((side * 0.09, 0.93, 0), (side * 0.11, 0.5, 0.01), 0.085, 0.06, TROUSERS)
        parts += rod((side * 0.11, 0.5, 0.01), (side * 0.12, 0.1, 0), 0.06, 0.045, TROUSERS)
        parts += rod((side * 0.12, 0.06, 0), (side * 0.14, 0.04, 0.14), 0.045, 0.035, SHOE)
    return parts


def arm_joints(side, elevation_deg, plane_deg):
    """Shoulder, elbow and wrist of a straight arm; side is -1 for the right and 1 for the left."""
    elevation, plane = numpy.radians([elevation_deg, plane_deg])
    way = numpy.array([side * numpy.sin(elevation) * numpy.cos(plane), -numpy.cos(elevation), numpy.sin(elevation) * numpy.sin(plane)])
    shoulder = numpy.array([side * 0.18, 1.40, 0.0])
    return shoulder, shoulder + UPPER_ARM_M * way, shoulder + (UPPER_ARM_M + FOREARM_M) * way


def arm(side, elevation_deg, plane_deg):
    """A straight arm with a short sleeve and a flat hand."""
    shoulder, elbow, wrist = arm_joints(side, elevation_deg, plane_deg)
    way = (wrist - shoulder) / numpy.linalg.norm(wrist - shoulder)
    sleeve, palm = shoulder + 0.16 * way, wrist + 0.06 * way
    return (rod(shoulder, sleeve, 0.058, 0.055, SHIRT) + rod(sleeve, elbow, 0.045, 0.04, SKIN) + rod(elbow, wrist, 0.04, 0.028, SKIN)
            + rod(wrist, palm, 0.03, 0.036, SKIN) + rod(palm, wrist + 0.16 * way, 0.034, 0.018, SKIN))


def seen(places, yaw_deg):
    """Places (n, 3) to pixels, and metres toward the camera; yaw 45 shows the front and the right side."""
    cos, sin = numpy.cos(numpy.radians(yaw_deg)), numpy.sin(numpy.radians(yaw_deg))
    x, z = cos * places[:, 0] + sin * places[:, 2], -sin * places[:, 0] + cos * places[:, 2]
    scale = FOCAL_PX / (DISTANCE_M - z)
    return WIDTH / 2 + scale * x, HEIGHT / 2 - scale * (places[:, 1] - CAMERA_HEIGHT_M), z, scale


def paint(image, near, parts, yaw_deg):
    """Draws spheres over a picture, each where nothing is nearer."""
    places = numpy.array([part[0] for part in parts], float)
    for (_, radius, colour), u, v, z, scale in zip(parts, *seen(places, yaw_deg)):
        size = radius * scale
        rows = slice(max(int(v - size), 0), min(int(v + size) + 2, HEIGHT))
        columns = slice(max(int(u - size), 0), min(int(u + size) + 2, WIDTH))
        right = ((numpy.arange(columns.start, columns.stop) - u) / size)[None, :]
        up = ((v - numpy.arange(rows.start, rows.stop)) / size)[:, None]
        toward = numpy.sqrt(numpy.maximum(1 - right**2 - up**2, 0))
        front = (toward > 0) & (z + radius * toward > near[rows, columns])
        light = 0.4 + 0.65 * numpy.clip(right * LIGHT[0] + up * LIGHT[1] + toward * LIGHT[2], 0, 1)
        near[rows, columns][front] = (z + radius * toward)[front]
        image[rows, columns][front] = (light[..., None] * numpy.array(colour))[front]


@functools.cache
def backdrop(yaw_deg):
    """Room and body with the left arm hanging: the picture and how near each pixel is."""
    image = numpy.empty((HEIGHT, WIDTH, 3), numpy.float32)
    image[:] = (200 - 40 * numpy.linspace(0, 1, HEIGHT))[:, None, None] * numpy.array([0.95, 1, 1.02])
    image[int(HEIGHT * 0.82):] = [120, 140, 150]
    near = numpy.full((HEIGHT, WIDTH), -numpy.inf, numpy.float32)
    paint(image, near, still_parts() + arm(1, 8, 0), yaw_deg)
    return image, near


def picture(elevation_deg, plane_deg, yaw_deg):
    """One BGR picture: the right arm raised, the left one hanging."""
    image, near = (layer.copy() for layer in backdrop(yaw_deg))
    paint(image, near, arm(-1, elevation_deg, plane_deg), yaw_deg)
    return numpy.clip(image, 0, 255).astype(numpy.uint8)


def smooth_step(share):
    """From 0 to 1 with the least jerk (Flash and Hogan 1985, J Neurosci 5:1688-1703)."""
    share = numpy.clip(share, 0, 1)
    return share**3 * (10 - 15 * share + 6 * share**2)


def elevation_deg(time_s, tops_deg, rest_deg=8.0, still_s=0.8, raise_s=1.5, hold_s=0.4, lower_s=1.7, pause_s=0.6):
    """Elevation at a time: one repetition to each top, one after the other."""
    since = (time_s - still_s) / (raise_s + hold_s + lower_s + pause_s)
    number = int(numpy.floor(since))
    if not 0 <= number < len(tops_deg):
        return rest_deg
    within = (since - number) * (raise_s + hold_s + lower_s + pause_s)
    share = smooth_step(within / raise_s) - smooth_step((within - raise_s - hold_s) / lower_s)
    return rest_deg + share * (tops_deg[number] - rest_deg)
