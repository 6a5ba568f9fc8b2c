"""An invented job for the simulator's tests: six inks, six shapes; and plain estimators."""

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import Cross, Diamond, Disc, MarkDesign, Ring, Square, Triangle

LAB = {  # cyan, magenta, yellow, black: FOGRA39L solids; the spot colours are invented
    "yellow": (89.0, -5.0, 93.0),
    "magenta": (48.0, 74.0, -3.0),
    "cyan": (55.0, -37.0, -50.0),
    "black": (16.0, 0.0, 0.0),
    "green": (45.0, -55.0, 30.0),
    "brown": (35.0, 25.0, 30.0),
}
SHAPES = {
    "yellow": Square(0.5),
    "magenta": Ring(0.6, 0.3),
    "cyan": Cross(0.6, 0.2),
    "black": Disc(0.6),
    "green": Diamond(0.7, 0.6),
    "brown": Triangle(0.6),
}
CAMERA = Camera(0.012, 0.012)
LINEAR = Camera(0.012, 0.012, tone="linear")


def job_of(shapes=SHAPES, pitch_mm=1.6, columns=3, covers=None):
    """A job whose marks stand in rows of `columns`, pitch_mm apart."""
    inks = tuple(
        Ink(name, Colour("lab", LAB[name]), (covers or {}).get(name, "transparent"))
        for name in shapes
    )
    stations = tuple(Station(k + 1, ink.name, 1.0 if k else 0.0) for k, ink in enumerate(inks))
    marks = tuple(
        MarkDesign(name, shape, pitch_mm * (k // columns), pitch_mm * (k % columns))
        for k, (name, shape) in enumerate(shapes.items())
    )
    press = Press("Press 2", 304.8, 330.0, stations)
    paper = Colour("lab", (95.0, 0.0, -2.0))
    reference = "black" if "black" in shapes else next(iter(shapes))
    return Job("Honey jar", press, inks, paper, reference, marks, Tolerance(0.1, 0.1, "test"))


def darkness(pixels):
    """How much darker than the top-left pixel, one plane, float."""
    plane = pixels.astype(float)
    if plane.ndim == 3:
        plane = plane.sum(axis=2)
    return plane[0, 0] - plane


def centroid(pixels):
    """(row, col) of the mean of all darkness."""
    weight = darkness(pixels)
    rows, cols = np.indices(weight.shape)
    return (weight * rows).sum() / weight.sum(), (weight * cols).sum() / weight.sum()


def edge_spread(profile):
    """(place, variance) of the edge in a profile that rises or falls once, px."""
    step = np.diff(profile)
    at = np.arange(step.size) + 0.5
    middle = (step * at).sum() / step.sum()
    return middle, (step * (at - middle) ** 2).sum() / step.sum()
