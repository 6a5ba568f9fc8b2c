"""Invented presses of the bank: six to ten stations of plain narrow-web sizes."""

import numpy as np

from regscan.job.job import CameraPost, Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import Disc, MarkDesign

TOOTH_MM = 3.175  # 1/8 inch, the step of repeats on geared presses
LAB = {
    "white": (93.0, -1.0, 1.0),
    "yellow": (89.0, -5.0, 93.0),
    "magenta": (48.0, 74.0, -3.0),
    "cyan": (55.0, -37.0, -50.0),
    "black": (16.0, 0.0, 0.0),
    "green": (45.0, -55.0, 30.0),
    "brown": (35.0, 25.0, 30.0),
    "orange": (65.0, 55.0, 70.0),
    "violet": (30.0, 40.0, -50.0),
    "red": (45.0, 65.0, 45.0),
}
MARK_MM, PITCH_MM, PER_ROW = 0.6, 1.7, 5
EDGES = ("operator", "drive")


def invented_job(stations: int, edges: bool, rng: np.random.Generator) -> Job:
    """A job with marks at one place or at both web edges; black mostly is the reference."""
    inks = [str(name) for name in rng.permutation(list(LAB))[:stations]]
    if "black" not in inks:
        inks[int(rng.integers(stations))] = "black"
    reference = "black" if rng.random() < 0.8 else str(rng.choice(inks))
    paths = [0.0, *np.round(rng.uniform(0.6, 1.5, stations - 1), 2).tolist()]
    line = tuple(Station(k + 1, ink, paths[k]) for k, ink in enumerate(inks))
    teeth = int(rng.integers(72, 161))
    camera = CameraPost("end", stations, round(float(rng.uniform(0.8, 2.5)), 2))
    press = Press("Press 2", round(teeth * TOOTH_MM, 3), 330.0, line, (camera,))
    marks = tuple(
        MarkDesign(ink, Disc(MARK_MM), PITCH_MM * (k // PER_ROW), PITCH_MM * (k % PER_ROW), edge)
        for edge in (EDGES if edges else ("",))
        for k, ink in enumerate(inks)
    )
    return Job(
        name="Honey jar",
        press=press,
        inks=tuple(Ink(ink, Colour("lab", LAB[ink])) for ink in inks),
        substrate=Colour("lab", (95.0, 0.0, -2.0)),
        reference=reference,
        marks=marks,
        tolerance=Tolerance(0.1, 0.1, "house rule"),
    )
