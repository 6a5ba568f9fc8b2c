"""Truth: where every mark of a drawn frame really lies. Plain frozen records.

Signs as everywhere in regscan: + circumferential is late (toward the unwind),
+ lateral is toward the drive side.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple


class TrueOffset(NamedTuple):
    """How far an ink really prints from its design place, mm on the web.

    A plain pair (circumferential_mm, lateral_mm) does as well wherever one is asked for.
    """

    circumferential_mm: float
    lateral_mm: float


IN_PLACE = TrueOffset(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class TrueMark:
    """One drawn mark.

    offset           of its ink from the design place, mm.
    row_px, col_px   true centre, px of the frame (pixel centres at integers); may lie
                     outside the frame.
    """

    ink: str
    edge: str
    offset: TrueOffset
    row_px: float
    col_px: float


@dataclass(frozen=True, slots=True)
class FrameTruth:
    """One drawn frame.

    origin_px   (row, col) of the mark set's own zero in the frame: the set as a whole
                wanders with the trigger, which is no register error.
    """

    origin_px: tuple[float, float]
    marks: tuple[TrueMark, ...]

    def mark(self, ink: str, edge: str = "") -> TrueMark:
        """The mark of that ink; raises KeyError when it was not drawn."""
        for mark in self.marks:
            if mark.ink == ink and (not edge or mark.edge == edge):
                return mark
        raise KeyError(ink)

    def against(self, ink: str, reference: str) -> TrueOffset:
        """True register offset of an ink against the reference ink, mm.

        NaN when the reference is not in the frame.
        """
        own = self.mark(ink).offset
        if all(mark.ink != reference for mark in self.marks):
            return TrueOffset(math.nan, math.nan)
        ref = self.mark(reference).offset
        return TrueOffset(
            own.circumferential_mm - ref.circumferential_mm, own.lateral_mm - ref.lateral_mm
        )
