"""What turns on the press besides the plate cylinders: drums, rollers, gears, by their girth."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TurningPart:
    """A drum, roller or gear that the web or the drive turns.

    girth_mm   web that passes in one of its turns.
    station    the station it belongs to or whose span it stands in; None for none in particular.
    """

    name: str
    girth_mm: float
    station: int | None = None
