"""How much larger than the picture offsets may be drawn without running into each other."""

from collections.abc import Iterable, Sequence

from regscan.job.layout import MarkDesign

MAGNIFICATIONS = (50, 20, 10, 5, 4, 3, 2, 1)
_ALONE_MM = 4.0  # room of a mark that has no neighbour


def magnification(reach_mm: Iterable[float], designs: Sequence[MarkDesign]) -> int:
    """The largest of the round figures at which neighbours' boxes and offsets stay apart.

    reach_mm   tolerances and |offsets| that are to be drawn from the design places, mm.
    """
    reach = max(reach_mm, default=0.0)
    gap = min((_gap(a, b) for a in designs for b in designs if a is not b), default=_ALONE_MM)
    return next((m for m in MAGNIFICATIONS if m * reach <= 0.47 * gap), 1)


def _gap(one: MarkDesign, other: MarkDesign) -> float:
    """Distance of two design places, mm, as boxes count it: on the axis where they are apart."""
    return max(
        abs(one.circumferential_mm - other.circumferential_mm),
        abs(one.lateral_mm - other.lateral_mm),
    )
