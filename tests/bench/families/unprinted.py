"""Families of frames in which one of the inks is not printed: its mark can only be missing.

A station that is not on yet, a plate without the mark: whatever is said of it is wrong.
"""

from collections.abc import Callable
from dataclasses import replace

from bench.families import first_print, separated, substrates
from bench.families.case import Case, Draw, Family


def _without_one(make: Callable[[Draw], Case]) -> Callable[[Draw], Case]:
    """Cases with the mark of one ink, any but the reference's, left out of what is printed."""

    def made(draw: Draw) -> Case:
        case = make(draw)
        inks = [mark.ink for mark in case.told.marks if mark.ink != case.told.reference]
        lost = inks[int(draw.any.integers(len(inks)))]
        job = case.scene.job
        printed = replace(job, marks=tuple(mark for mark in job.marks if mark.ink != lost))
        offsets = {ink: off for ink, off in case.offsets.items() if ink != lost}
        return replace(case, scene=replace(case.scene, job=printed), offsets=offsets)

    return made


_SAID = "one ink's mark is not printed: "
_BASES = (
    ("an ink not printed", separated.FAMILIES[1]),
    ("an ink not printed on film", substrates.FAMILIES[0]),
    ("first print, an ink not printed", first_print.FAMILIES[0]),
    ("all discs, an ink not printed", first_print.FAMILIES[1]),
)
FAMILIES = tuple(
    Family(name, "unprinted", _SAID + base.says, _without_one(base.make), base.variants)
    for name, base in _BASES
)
