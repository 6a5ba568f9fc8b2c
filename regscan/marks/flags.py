"""Why a mark is trusted less, and the sentence for each reason.

One integer travels with the mark; people read the sentences (docs/flags.md is
printed from this table).
"""

from enum import IntFlag
from functools import lru_cache


class MarkFlag(IntFlag):
    """Reasons to trust a mark less, or not at all."""

    CLIPPED = 1
    SMEARED = 2
    FAINT = 4
    INK_UNSURE = 8
    MISSHAPEN = 16
    CROWDED = 32
    SATURATED = 64
    NO_FIT = 256
    REFERENCE = 512
    HOLES = 1024
    SLURRED = 2048


SENTENCES: dict[MarkFlag, str] = {
    MarkFlag.CLIPPED: "the mark touches the border of the frame",
    MarkFlag.SMEARED: "the edge is much softer than the other marks' edges",
    MarkFlag.FAINT: "the ink hardly stands out from the substrate",
    MarkFlag.INK_UNSURE: "another ink explains the colour about as well",
    MarkFlag.MISSHAPEN: "the printed shape differs from the design",
    MarkFlag.CROWDED: "something else is printed on or against the mark",
    MarkFlag.SATURATED: "the picture is over- or under-exposed at the mark",
    MarkFlag.NO_FIT: "the shape could not be fitted to the pixels",
    MarkFlag.HOLES: "part of the mark is not printed",
    MarkFlag.SLURRED: "the ink is smeared along the web behind or before the mark",
    MarkFlag.REFERENCE: "the reference colour itself is not trusted in this frame",
}


@lru_cache(maxsize=1024)
def describe(flags: MarkFlag) -> str:
    """The sentences of all flags set, joined; "" for a clean mark."""
    return "; ".join(SENTENCES[flag] for flag in MarkFlag if flag in flags)
