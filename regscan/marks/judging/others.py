"""What the marks of a frame say of each other: one web, one lens, one moment."""

import math
from collections.abc import Sequence

import numpy as np

from regscan.job.layout import MarkDesign
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.shape.outline import area_mm2, outline_length, outline_mm

_FEWEST = 2  # other marks that say how far print has grown


def beside_others(marks: Sequence[Mark], designs: Sequence[MarkDesign]) -> list[Mark]:
    """The marks with flags for what sets one apart from the others of its frame."""
    return _odd_growths_flagged(_smears_flagged(marks), designs)


def _smears_flagged(marks: Sequence[Mark]) -> list[Mark]:
    """A mark much softer than the others of its frame, or softer than any use."""
    widths = [mark.edge_px for mark in marks if mark.status != "missing"]
    if not widths:
        return list(marks)
    limit = min(LIMITS.edge_width_px, LIMITS.edge_over_others * float(np.median(widths)))
    return [with_flag(mark, MarkFlag.SMEARED) if mark.edge_px > limit else mark for mark in marks]


def _odd_growths_flagged(marks: Sequence[Mark], designs: Sequence[MarkDesign]) -> list[Mark]:
    """A mark known by its outline that has grown otherwise than the others: a part of that
    outline may be the edge of other print."""
    found = list(marks)
    by_outline = [
        k for k, mark in enumerate(marks) if mark.status == "ok" and math.isnan(mark.printing.fill)
    ]
    if not by_outline:  # most frames
        return found
    grown = [_grown_um(mark, design) for mark, design in zip(marks, designs, strict=True)]
    alike = [k for k, mark in enumerate(marks) if MarkFlag.MISSHAPEN not in mark.flags]
    for k in by_outline:
        others = [grown[n] for n in alike if n != k and not math.isnan(grown[n])]
        if len(others) >= _FEWEST:
            # Doubtful ones have their say: most are doubted for something else.
            apart = abs(grown[k] - float(np.median(others)))
            if apart > LIMITS.growth_apart_um:
                found[k] = with_flag(marks[k], MarkFlag.MISSHAPEN)
    return found


def _grown_um(mark: Mark, design: MarkDesign) -> float:
    """How far its edges lie outside the design's."""
    length_mm = outline_length(outline_mm(design.shape))
    return 1000.0 * (mark.area_ratio - 1.0) * area_mm2(design.shape) / length_mm
