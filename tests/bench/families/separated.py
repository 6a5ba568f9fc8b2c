"""Families of marks that stand apart on good stock."""

from dataclasses import replace

from bench.families.case import Case, Draw, Family
from bench.families.layouts import SIX_DISCS, SIX_SHAPES, rows_of
from bench.families.scenery import case_of, usual_look
from bench.families.stock import job_of
from regscan.simulator.look import Print

_SETS = (SIX_SHAPES, SIX_DISCS)


def _clean(draw: Draw) -> Case:
    told = job_of(rows_of(_SETS[draw.number % 2]))
    look = replace(usual_look(draw.any), print=Print())
    return case_of(draw, told, look=look, printed=told)


def _rough(draw: Draw) -> Case:
    told = job_of(rows_of(_SETS[draw.number % 2]))
    look = usual_look(draw.any, rough_um=float(draw.any.uniform(3.0, 6.0)))
    return case_of(draw, told, look=look)


CLEAN = Family(
    "separated clean",
    "separated",
    "six inks apart, sharp print, noise 1-3 of 255, colours exactly the job's",
    _clean,
)
FAMILIES = (
    CLEAN,
    Family(
        "separated rough",
        "separated",
        "the same with edges that wander by 3-6 um rms and inks a little off the job's",
        _rough,
    ),
)
