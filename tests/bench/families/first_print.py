"""Families of the first print after a changeover: everything millimetres off."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bench.families.case import Case, Draw, Family
from bench.families.layouts import SIX_DISCS, SIX_SHAPES, rows_of
from bench.families.scenery import camera_of, case_of, usual_look
from bench.families.stock import as_printed, job_of, offsets_within, overprints
from regscan.job.job import Job
from regscan.job.layout import Shape
from regscan.simulator.look import Patch

LARGEST_MM = 3.0


def _artwork(job: Job, rng: np.random.Generator) -> tuple[Patch, ...]:
    """Bars like text lines and blocks, anywhere the marks may come to lie."""
    patches = []
    for _ in range(int(rng.integers(3, 6))):
        ink = job.inks[int(rng.integers(len(job.inks)))].name
        along, across = rng.uniform(-3.5, 5.0), rng.uniform(-4.0, 7.0)
        if rng.random() < 0.5:
            length, width = rng.uniform(0.15, 0.4), rng.uniform(1.0, 4.0)
        else:
            length, width = rng.uniform(0.8, 2.0, 2)
        sizes = float(length), float(width)
        patches.append(Patch(ink, float(along), float(across), *sizes, float(rng.uniform(-2, 2))))
    return tuple(patches)


def _first(draw: Draw, shapes: Mapping[str, Shape]) -> Case:
    told = job_of(rows_of(shapes, pitch_mm=1.5))
    printed = as_printed(told, draw.any)
    look = replace(usual_look(draw.any), patches=_artwork(told, draw.any))
    return case_of(
        draw,
        told,
        look=look,
        camera=camera_of(draw.lasting, 0.0135),
        offsets=offsets_within(told, draw.any, LARGEST_MM),
        printed=printed,
        over=overprints(printed, draw.any),
    )


FAMILIES = (
    Family(
        "first print",
        "first print",
        "six inks of six shapes, each up to 3 mm off in each axis, over one another and artwork",
        lambda draw: _first(draw, SIX_SHAPES),
    ),
    Family(
        "first print, all discs",
        "first print",
        "the same with six alike discs: only colour tells them apart",
        lambda draw: _first(draw, SIX_DISCS),
    ),
)
