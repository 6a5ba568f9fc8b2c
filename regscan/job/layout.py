"""The marks as designed: which shape each ink prints, and where it should sit.

Lengths are mm on the web. A mark's own axes are (circumferential, lateral):
+ circumferential points toward the unwind (what prints *late* lies that way),
+ lateral points toward the drive side. `turn_deg` turns a shape from
+ circumferential toward + lateral. This module holds measures only; how a
shape is drawn (simulator) or fitted (marks) is the business of those rooms.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Disc:
    """A filled circle."""

    diameter_mm: float


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle line: outer and inner diameter."""

    diameter_mm: float
    inner_diameter_mm: float


@dataclass(frozen=True, slots=True)
class Cross:
    """Two equal bars at right angles; untouched by turn_deg they lie along the axes."""

    size_mm: float
    stroke_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Square:
    """A filled square; side_mm along the axes before turning."""

    side_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Diamond:
    """A filled rhombus with its diagonals along the axes before turning."""

    circumferential_mm: float
    lateral_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Bar:
    """A filled rectangle, its length along the lateral axis before turning."""

    length_mm: float
    width_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Triangle:
    """A filled equilateral triangle; one corner toward + circumferential before turning.

    Its place is its centroid.
    """

    side_mm: float
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Polygon:
    """Any simple polygon; points are (circumferential, lateral) mm about its place."""

    points_mm: tuple[tuple[float, float], ...]
    turn_deg: float = 0.0


Shape = Disc | Ring | Cross | Square | Diamond | Bar | Triangle | Polygon


@dataclass(frozen=True, slots=True)
class Approved:
    """Where the approved sheet prints a mark: its offset from the design place.

    Counted against the reference, signs as every offset; sd is one standard deviation,
    0 where the place was agreed on and not measured.
    """

    circumferential_mm: float
    lateral_mm: float
    circumferential_sd_mm: float = 0.0
    lateral_sd_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class MarkDesign:
    """One ink's mark: its shape and its design place within the mark set.

    edge is "operator", "drive" or "" (one mark set only). Only differences of
    places matter: the set as a whole may lie anywhere in the frame. approved is
    None where no approved sheet was taught.
    """

    ink: str
    shape: Shape
    circumferential_mm: float
    lateral_mm: float
    edge: str = ""
    approved: Approved | None = None
