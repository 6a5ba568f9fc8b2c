"""Families of inks upon one another."""

from dataclasses import replace

from bench.families.case import Case, Draw, Family
from bench.families.layouts import (
    MIXED,
    MIXED_SPOTS,
    RINGS_AROUND,
    RINGS_OVER,
    Marks,
    at_one_place,
    crosses,
)
from bench.families.scenery import camera_of, case_of, usual_look
from bench.families.stock import as_printed, job_of, offsets_within, overprints
from regscan.job.layout import Disc, Ring, Square

_CROSSES = (
    crosses(2.0, 0.2, {"yellow": 22.5, "magenta": 45.0, "cyan": 67.5, "black": 0.0}),
    crosses(1.6, 0.16, {"yellow": 67.5, "cyan": 45.0, "magenta": 22.5, "black": 0.0}),
)
_SAME_CROSSES = crosses(2.0, 0.2, dict.fromkeys(("yellow", "magenta", "cyan", "black"), 0.0))
_UNDER_BLACK = at_one_place(
    {"yellow": Square(1.6), "magenta": Ring(0.7, 0.35), "cyan": Disc(0.5), "black": Disc(1.1)}
)
_CRESCENT = at_one_place({"yellow": Disc(1.6), "cyan": Disc(0.8), "black": Disc(0.9)})


def _upon(
    draw: Draw, marks: Marks, *, opaque: tuple[str, ...] = (), largest_mm: float = 0.15
) -> Case:
    told = job_of(marks, opaque=opaque)
    printed = as_printed(told, draw.any)
    return case_of(
        draw,
        told,
        look=usual_look(draw.any),
        camera=camera_of(draw.lasting, float(draw.lasting.uniform(0.0115, 0.014))),
        offsets=offsets_within(told, draw.any, largest_mm),
        printed=printed,
        over=overprints(printed, draw.any),
    )


def _crosses(draw: Draw) -> Case:
    return _upon(draw, _CROSSES[draw.number % 2], largest_mm=0.2)


def _rings(draw: Draw) -> Case:
    return _upon(draw, (RINGS_AROUND, RINGS_OVER)[draw.number % 2], largest_mm=0.2)


def _mixed(draw: Draw) -> Case:
    return _upon(draw, (MIXED, MIXED_SPOTS)[draw.number % 2], largest_mm=0.2)


def _hidden(draw: Draw) -> Case:
    kind = draw.number % 4
    if kind == 0:
        return _upon(draw, _UNDER_BLACK, opaque=("black",), largest_mm=0.1)
    if kind == 1:
        case = _upon(draw, _CRESCENT, opaque=("black",))
        turn = draw.any.choice([-1.0, 1.0], 2)
        aside = draw.any.uniform(0.05, 0.12, 2) * turn
        return replace(case, offsets={**case.offsets, "cyan": (float(aside[0]), float(aside[1]))})
    if kind == 2:
        return _upon(draw, _SAME_CROSSES, largest_mm=0.08)
    return _upon(draw, _UNDER_BLACK, largest_mm=0.1)


FAMILIES = (
    Family(
        "overprinted crosses",
        "overprinted",
        "process crosses of four turns at one place, colours of FOGRA39L overprints, up to "
        "0.2 mm off",
        _crosses,
    ),
    Family(
        "overprinted rings",
        "overprinted",
        "concentric process rings and discs, around and over one another, FOGRA39L overprints",
        _rings,
    ),
    Family(
        "overprinted mixed",
        "overprinted",
        "square, triangle, cross, ring, bar, diamond at one place; process inks (FOGRA39L) "
        "and spot inks that trap less than their product",
        _mixed,
    ),
    Family(
        "hidden",
        "hidden",
        "inks wholly or mostly under black (opaque, and FOGRA39L), a crescent left of a disc, "
        "four like crosses nearly in register: doubt or missing is the right answer",
        _hidden,
        variants=4,
    ),
)
