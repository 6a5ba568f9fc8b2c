"""What is wanted of each group of families."""

from dataclasses import dataclass

WRONG_MM = 0.050
VISIBLE = 0.60
COVERAGE = (0.92, 0.98)
TIMES_SEPARATED = 3.0
# Coverage of fewer values than this says nothing: 95 % of 100 is known to 2 points.
ENOUGH_VALUES = 100
# The bench's own wish: a measurer that doubts everything is of no use. Only where nothing is wrong
# with the print or the picture.
SURE = 0.95


@dataclass(frozen=True, slots=True)
class Limits:
    """found   least share of whole, visible marks with a place within WRONG_MM, ok or doubtful.
    times_ideal   largest rms against the ideal fit's on the same marks; None: not judged.
    sure    least share of them called ok; None: not judged.
    quick   True where the time is limited against the separated case.
    """

    found: float | None
    times_ideal: float | None
    sure: float | None = None
    quick: bool = False


LIMITS: dict[str, Limits] = {
    "separated": Limits(0.99, 1.15, SURE),
    "overprinted": Limits(0.99, 1.5, SURE, quick=True),
    "hidden": Limits(None, None, quick=True),
    "first print": Limits(0.95, 1.3, quick=True),
    "substrates": Limits(0.99, 1.3, SURE),
    "poor": Limits(0.95, 1.5),
    # A mark that is nowhere is sought everywhere: the time is told, but not limited.
    "unprinted": Limits(0.95, 1.3),
}
