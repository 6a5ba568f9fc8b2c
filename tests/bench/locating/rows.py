"""One row of the comparison: a method, its errors and its time on one scene."""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np
from outside.drawn import bound_px
from outside.mono import mono_job
from outside.rivals import Known, Rival

from bench.locating.scene import Patch, Scene
from regscan.camera.camera import Camera
from regscan.job.layout import Disc
from regscan.marks.finder import MarkFinder
from regscan.marks.mark import Mark
from regscan.recording.frame import Frame, FrameInfo

OURS = "regscan"


@dataclass(frozen=True)
class Row:
    """What one method did with one scene; pull_spread is None for methods that claim no sd."""

    method: str
    trials: int
    rms_px: float
    bias_px: float
    ratio: float
    ms: float
    pull_spread: float | None = None


def row_of(
    method: str, scene: Scene, patches: list[Patch], places: list[tuple[float, float]], ms: float
) -> Row:
    """Error per axis: rms over both, bias as the larger of the two means."""
    errors = np.array(places) - np.array([p.place for p in patches])
    bound = float(np.mean(bound_px(Disc(scene.diameter_mm), scene.px_mm, scene.look)))
    rms = float(np.sqrt(np.mean(errors**2)))
    bias = float(np.abs(errors.mean(axis=0)).max())
    return Row(method, len(patches), rms, bias, rms / bound, ms)


def timed(call: Callable[[Patch], object], patches: list[Patch]) -> tuple[list, float]:
    """Results, and the median processor time of one call in ms; the first is not counted.

    Processor time, since others may be at work on the same machine.
    """
    call(patches[0])
    answers, took = [], []
    for patch in patches:
        start = time.process_time()
        answers.append(call(patch))
        took.append(time.process_time() - start)
    return answers, 1000 * float(np.median(took))


def ours(scene: Scene, patches: list[Patch]) -> Row:
    """regscan's row, with the spread of error over claimed sd."""
    job = mono_job(Disc(scene.diameter_mm), scene.look.contrast)
    finder = MarkFinder(job, Camera(scene.px_mm, scene.px_mm, tone="linear"))

    def measure(patch: Patch) -> Mark:
        return finder.measure(Frame(FrameInfo("disc", 0), patch.pixels))[0]

    marks, ms = timed(measure, patches)
    lost = [mark.status for mark in marks if mark.status != "ok"]
    if lost:
        print(f"  regscan: {len(lost)} of {len(marks)} not ok in {scene.title}")
    places = [(mark.row_px, mark.col_px) for mark in marks]
    row = row_of(OURS, scene, patches, places, ms)
    claimed = np.sqrt([(mark.row_var, mark.col_var) for mark in marks])
    pulls = (np.array(places) - np.array([p.place for p in patches])) / claimed
    return Row(**{**asdict(row), "pull_spread": float(np.std(pulls))})


def theirs(name: str, rival: Rival, scene: Scene, patches: list[Patch]) -> Row:
    known = Known(scene.diameter_mm / scene.px_mm / 2, scene.look, patches[0].pixels.shape)
    places, ms = timed(lambda patch: rival(patch.pixels, known), patches)
    return row_of(name, scene, patches, places, ms)
