"""A mono job and frames for one drawn mark, and what regscan makes of many of them."""

from dataclasses import dataclass

import numpy as np

from outside.drawn import PAPER, Look, Place, cover_of, exposed, levels_of, size_px
from regscan.camera.camera import Camera
from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import MarkDesign, Shape
from regscan.marks.finder import MarkFinder
from regscan.marks.mark import Mark
from regscan.recording.frame import Frame, FrameInfo


def mono_job(shape: Shape, contrast: float) -> Job:
    """One station, black on paper, both taught as this camera sees them."""
    ink, paper = (PAPER - contrast) / 255, PAPER / 255
    return Job(
        name="One mark",
        press=Press("Press 2", 304.8, 330.0, (Station(1, "black", 0.0),)),
        inks=(Ink("black", Colour("taught", (ink, ink, ink))),),
        substrate=Colour("taught", (paper, paper, paper)),
        reference="black",
        marks=(MarkDesign("black", shape, 0.0, 0.0),),
        tolerance=Tolerance(0.1, 0.1, "house rule"),
    )


@dataclass(frozen=True)
class Trial:
    """One mark of known place, drawn and measured."""

    place: Place
    mark: Mark

    @property
    def error_px(self) -> Place:
        return self.mark.row_px - self.place[0], self.mark.col_px - self.place[1]


@dataclass(frozen=True)
class Sample:
    """Many trials of one mark under one look."""

    trials: tuple[Trial, ...]

    @property
    def errors_px(self) -> np.ndarray:
        """N x 2 (row, col)."""
        return np.array([t.error_px for t in self.trials])

    @property
    def pulls(self) -> np.ndarray:
        """N x 2 errors over claimed sd."""
        claimed = [(t.mark.row_var, t.mark.col_var) for t in self.trials]
        return np.asarray(self.errors_px / np.sqrt(claimed))

    @property
    def not_ok(self) -> list[Mark]:
        return [t.mark for t in self.trials if t.mark.status != "ok"]


def phases(side: int) -> list[Place]:
    """side x side sub-pixel places over one pixel, off its symmetric points."""
    steps = (np.arange(side) + 0.37) / side - 0.5
    return [(float(r), float(c)) for r in steps for c in steps]


def sample(
    shape: Shape, px_mm: float, look: Look, *, side: int, repeats: int = 1, seed: int = 0
) -> Sample:
    """side x side phases, each with `repeats` draws of noise."""
    finder = MarkFinder(mono_job(shape, look.contrast), Camera(px_mm, px_mm, tone="linear"))
    rng = np.random.default_rng(seed)
    size = size_px(shape, px_mm)
    trials = []
    for row, col in phases(side):
        place = size[0] // 2 + row, size[1] // 2 + col
        levels = levels_of(cover_of(size, place, shape, px_mm, look), look)
        for _ in range(repeats):
            frame = Frame(FrameInfo("mark.png", 0), exposed(levels, look, rng))
            trials.append(Trial(place, finder.measure(frame)[0]))
    return Sample(tuple(trials))
