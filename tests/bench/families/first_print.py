"""Families of the first print after a changeover: everything millimetres off."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bench.families.case import Case, Draw, Family, Offsets
from bench.families.layouts import SIX_DISCS, SIX_SHAPES, rows_of
from bench.families.scenery import camera_of, case_of, usual_look
from bench.families.stock import as_printed, job_of, offsets_within, overprints
from regscan.job.job import Job
from regscan.job.layout import Shape
from regscan.simulator.look import Patch

LARGEST_MM = 3.0


def _met(job: Job, rng: np.random.Generator, offsets: Offsets) -> Offsets:
    """The offsets with two inks moved so that their marks touch or overlap another's."""
    moved = dict(offsets)
    places = {mark.ink: (mark.circumferential_mm, mark.lateral_mm) for mark in job.marks}
    names = [ink.name for ink in job.inks if ink.name != job.reference]
    for ink in rng.permutation(names)[:2]:
        partner = str(rng.choice([name for name in places if name != ink]))
        turn, apart = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.25, 0.75)
        off = tuple(
            places[partner][k] + moved[partner][k] + apart * way - places[ink][k]
            for k, way in enumerate((np.cos(turn), np.sin(turn)))
        )
        if max(abs(v) for v in off) <= LARGEST_MM:
            moved[str(ink)] = (float(off[0]), float(off[1]))
    return moved


def _artwork(job: Job, rng: np.random.Generator, offsets: Offsets) -> tuple[Patch, ...]:
    """Bars like text lines and blocks, anywhere the marks may come to lie; one upon a mark."""
    patches = []
    covered = job.marks[int(rng.integers(len(job.marks)))]
    for k in range(int(rng.integers(3, 6))):
        ink = job.inks[int(rng.integers(len(job.inks)))].name
        along, across = rng.uniform(-3.5, 5.0), rng.uniform(-4.0, 7.0)
        if k == 0:
            # Artwork moves with its ink, and comes to lie where the other ink's mark is.
            own, off = offsets[covered.ink], offsets[ink]
            along = covered.circumferential_mm + own[0] - off[0] + rng.uniform(-0.7, 0.7)
            across = covered.lateral_mm + own[1] - off[1] + rng.uniform(-0.7, 0.7)
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
    offsets = _met(told, draw.any, offsets_within(told, draw.any, LARGEST_MM))
    look = replace(usual_look(draw.any), patches=_artwork(told, draw.any, offsets))
    return case_of(
        draw,
        told,
        look=look,
        camera=camera_of(draw.lasting, 0.0135),
        offsets=offsets,
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
