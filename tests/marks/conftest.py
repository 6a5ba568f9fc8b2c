"""A small invented job, drawn by the simulator, for the tests of finding and measuring."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import Cross, Diamond, Disc, MarkDesign, Ring, Square, Triangle

# CMYK solids: published FOGRA39L Lab (see tests/outside/data); the other two are invented.
LAB = {
    "cyan": (55.0, -37.0, -50.0),
    "magenta": (48.0, 74.0, -3.0),
    "yellow": (89.0, -5.0, 93.0),
    "black": (16.0, 0.0, 0.0),
    "green": (50.0, -65.0, 27.0),
    "brown": (35.0, 25.0, 30.0),
}
SHAPES = (
    Disc(0.5),
    Ring(0.6, 0.36),
    Square(0.5),
    Cross(0.6, 0.14),
    Triangle(0.6),
    Diamond(0.7, 0.5),
)


def six_colours(shapes=SHAPES):
    inks = tuple(Ink(name, Colour("lab", lab)) for name, lab in LAB.items())
    stations = tuple(Station(n + 1, name, float(n > 0)) for n, name in enumerate(LAB))
    marks = tuple(
        MarkDesign(name, shapes[n], 1.8 * (n // 3), 1.8 * (n % 3)) for n, name in enumerate(LAB)
    )
    return Job(
        name="Honey jar, six colours",
        press=Press("Press 2", 304.8, 330.0, stations),
        inks=inks,
        substrate=Colour("lab", (95.0, 0.0, -2.0)),
        reference="black",
        marks=marks,
        tolerance=Tolerance(0.1, 0.1, "invented for tests"),
    )


@pytest.fixture(scope="session")
def job():
    return six_colours()


@pytest.fixture(scope="session")
def camera():
    return Camera(0.012, 0.012)


@pytest.fixture
def without(job):
    """The same job without the marks of some inks."""

    def strip(*inks):
        return replace(job, marks=tuple(m for m in job.marks if m.ink not in inks))

    return strip


def errors_px(marks, truth):
    """N x 2 (row, col) error of every mark that was found."""
    found = [m for m in marks if m.status != "missing"]
    return np.array(
        [(m.row_px - truth.mark(m.ink).row_px, m.col_px - truth.mark(m.ink).col_px) for m in found]
    )
