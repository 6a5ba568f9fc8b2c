"""Processor time per mark of a whole frame: finding, fitting and judging six marks on one core."""

import statistics
import time

import numpy as np
from outside.camera import Optics, frame_of
from outside.colours import read_solids
from outside.drawn import Look, cover_of
from outside.jobs import job_of

from regscan.camera.camera import Camera
from regscan.job.layout import Disc, MarkDesign
from regscan.marks.finder import MarkFinder
from regscan.recording.frame import Frame

SOLIDS = read_solids()
INKS = {  # six stations in print order, colours of solids and overprints
    "yellow": frozenset({"yellow"}),
    "magenta": frozenset({"magenta"}),
    "cyan": frozenset({"cyan"}),
    "red": frozenset({"magenta", "yellow"}),
    "green": frozenset({"cyan", "yellow"}),
    "black": frozenset({"black"}),
}
MARK, PITCH_PX = Disc(0.5), 140  # 50 px wide
SIZES = {"just the marks": (300, 440), "1280 x 1024": (1024, 1280)}


def frame_and_finder(size: tuple[int, int]) -> tuple[Frame, MarkFinder]:
    """Six discs in the middle of a colour frame with noise 3, and the finder for them."""
    places = {
        ink: (size[0] / 2 - 70.3 + PITCH_PX * (k // 3), size[1] / 2 - 140.4 + PITCH_PX * (k % 3))
        for k, ink in enumerate(INKS)
    }
    paper = SOLIDS[frozenset()].light
    light = np.tile(paper, (*size, 1))
    for ink, combination in INKS.items():
        cover = cover_of(size, places[ink], MARK, 0.01, Look())
        light -= cover[..., None] * (paper - SOLIDS[combination].light)
    designs = [MarkDesign(ink, MARK, row * 0.01, col * 0.01) for ink, (row, col) in places.items()]
    labs = {"paper": SOLIDS[frozenset()].lab} | {i: SOLIDS[c].lab for i, c in INKS.items()}
    frame = frame_of(light, Optics(blur_px=0.0, noise=3.0), seed=1)
    return frame, MarkFinder(job_of(designs, labs, "black"), Camera(0.01, 0.01))


def milliseconds_per_mark(repeats: int) -> dict[str, float]:
    """Median time of one frame over its six marks, by the frame's size."""
    answer = {}
    for name, size in SIZES.items():
        frame, finder = frame_and_finder(size)
        assert all(mark.status == "ok" for mark in finder.measure(frame))
        took = []
        for _ in range(repeats):
            start = time.process_time()
            finder.measure(frame)
            took.append(time.process_time() - start)
        answer[name] = 1000 * statistics.median(took) / len(INKS)
    return answer
