"""What is printed is not what the job says: no place is surely wrong, and the rest is measured.

Two inks with each other's marks or places, a mark of another size, an ink of another colour.
"""

from dataclasses import replace

import numpy as np
import pytest

from bench.families.catalogue import FAMILIES
from regscan.job.job import Colour, Job
from regscan.job.layout import Disc
from regscan.marks.finder import MarkFinder
from regscan.simulator.draw import draw_frame

FAR_MM = 0.02


def with_shapes_swapped(job: Job, one: int, other: int) -> tuple[Job, set[str]]:
    marks = list(job.marks)
    marks[one] = replace(job.marks[one], shape=job.marks[other].shape)
    marks[other] = replace(job.marks[other], shape=job.marks[one].shape)
    return replace(job, marks=tuple(marks)), {job.marks[one].ink, job.marks[other].ink}


def with_places_swapped(job: Job, one: int, other: int) -> tuple[Job, set[str]]:
    """Both marks lie up to 3.4 mm off, as they may after a changeover."""
    a, b = job.marks[one], job.marks[other]
    marks = list(job.marks)
    there = (
        replace(a, circumferential_mm=b.circumferential_mm, lateral_mm=b.lateral_mm),
        replace(b, circumferential_mm=a.circumferential_mm, lateral_mm=a.lateral_mm),
    )
    marks[one], marks[other] = there
    return replace(job, marks=tuple(marks)), set()


def with_another_colour(job: Job, one: int, other: int) -> tuple[Job, set[str]]:
    lightness, a, b = job.inks[one].colour.values
    inks = list(job.inks)
    inks[one] = replace(job.inks[one], colour=Colour("lab", (lightness, 0.3 * a - 20.0, b + 15.0)))
    return replace(job, inks=tuple(inks)), {job.inks[one].name}


def with_another_size(job: Job, one: int, other: int) -> tuple[Job, set[str]]:
    """The first disc a sixth larger, or smaller."""
    number = next(k for k, mark in enumerate(job.marks) if isinstance(mark.shape, Disc))
    mark, marks = job.marks[number], list(job.marks)
    times = 1.15 if one % 2 else 0.85
    marks[number] = replace(mark, shape=Disc(times * mark.shape.diameter_mm))
    return replace(job, marks=tuple(marks)), {mark.ink}


@pytest.mark.parametrize(
    "made", [with_shapes_swapped, with_places_swapped, with_another_colour, with_another_size]
)
@pytest.mark.parametrize("name", ["separated rough", "white on clear film", "kraft"])
def test_what_is_printed_otherwise_is_never_surely_elsewhere(made, name):
    family = next(family for family in FAMILIES if family.name == name)
    for number in range(720, 730, 2 if made is not with_another_size else 1):
        case = family.case(number)
        scene = case.scene
        if len({mark.shape for mark in scene.job.marks}) == 1 and made is with_shapes_swapped:
            continue  # six alike discs have nothing to swap
        one, other = np.random.default_rng(number).choice(len(scene.job.marks), 2, replace=False)
        printed, odd = made(scene.job, int(one), int(other))
        frame, truth = draw_frame(printed, scene.camera, case.offsets, scene.look, scene.shot)
        for mark in MarkFinder(case.told, scene.camera).measure(frame):
            true = truth.mark(mark.ink)
            off = np.hypot(mark.row_px - true.row_px, mark.col_px - true.col_px)
            if mark.ink not in odd:
                assert mark.status == "ok", (number, mark)
            if mark.status == "ok":
                assert off * scene.camera.mm_per_px < FAR_MM, (number, mark)
