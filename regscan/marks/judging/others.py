"""What the marks of a frame say of each other: one web, one lens, one moment."""

import math
from collections.abc import Sequence
from functools import lru_cache

from regscan.job.layout import MarkDesign, Shape
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.growth import usual_growth
from regscan.marks.judging.quality import with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.median import median
from regscan.marks.shape.outline import area_mm2, outline_length, outline_mm

_FEWEST = 2  # other marks that say how far print has grown
_FEWEST_SURE = 3  # that say it well enough for a mark to be placed by it
_ODD_SD = 2.0  # sd of growth: a mark by its outline that is further off is asked again


def beside_others(marks: Sequence[Mark], designs: Sequence[MarkDesign]) -> list[Mark]:
    """The marks with flags for what sets one apart from the others of its frame."""
    return _odd_growths_flagged(_smears_flagged(marks), designs)


def _smears_flagged(marks: Sequence[Mark]) -> list[Mark]:
    """A mark much softer than the others of its frame, or softer than any use."""
    widths = [mark.edge_px for mark in marks if mark.status != "missing"]
    if not widths:
        return list(marks)
    limit = min(LIMITS.edge_width_px, LIMITS.edge_over_others * median(widths))
    return [with_flag(mark, MarkFlag.SMEARED) if mark.edge_px > limit else mark for mark in marks]


def _odd_growths_flagged(marks: Sequence[Mark], designs: Sequence[MarkDesign]) -> list[Mark]:
    """A mark known by its outline that has grown otherwise than the others: a part of that
    outline may be the edge of other print."""
    found = list(marks)
    for k, own, others in _growths_um(marks, designs):
        apart = abs(own - median(others)) if len(others) >= _FEWEST else 0.0
        if marks[k].status == "ok" and apart > LIMITS.growth_apart_um:
            found[k] = with_flag(marks[k], MarkFlag.MISSHAPEN)
    return found


def odd_growths(
    marks: Sequence[Mark], designs: Sequence[MarkDesign], mm_per_px: float
) -> dict[int, tuple[float, float]]:
    """Marks known by their outline that seem to have grown otherwise than the others: by their
    numbers what these say of growth, px, and the variance of that."""
    found, um = {}, 1000.0 * mm_per_px
    for k, own, others in _growths_um(marks, designs):
        enough = [other / um for other in others] if len(others) >= _FEWEST_SURE else []
        usual = usual_growth(enough, mm_per_px)
        if usual and (own / um - usual[0]) ** 2 > _ODD_SD**2 * usual[1]:
            found[k] = usual
    return found


def _growths_um(
    marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[tuple[int, float, list[float]]]:
    """(number, growth, growths of the others that look like their designs) of every mark that
    is known by its outline. Doubtful ones have their say: most are doubted for something else."""
    seen = [k for k, mark in enumerate(marks) if mark.status != "missing"]
    by_outline = [k for k in seen if math.isnan(marks[k].printing.fill)]
    if not by_outline:  # most frames
        return []
    grown = {k: _grown_um(marks[k], designs[k]) for k in seen}
    alike = [k for k in seen if MarkFlag.MISSHAPEN not in marks[k].flags]
    return [(k, grown[k], [grown[other] for other in alike if other != k]) for k in by_outline]


def _grown_um(mark: Mark, design: MarkDesign) -> float:
    """How far its edges lie outside the design's."""
    return 1000.0 * (mark.area_ratio - 1.0) * _width_mm(design.shape)


@lru_cache(maxsize=128)
def _width_mm(shape: Shape) -> float:
    """Its area over the length of its edges."""
    return area_mm2(shape) / outline_length(outline_mm(shape))
