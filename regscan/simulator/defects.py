"""Defects of one ink's marks, as records. Amplitudes and places are mm or um on the web.

Places are about the mark's own centre; they move with the mark. Each is drawn by
`regscan.simulator.halftone` (the screen) or `regscan.simulator.flawed` (the rest).
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Halftone:
    """The ink's marks are a screened tint: round dots (round holes from one half on).

    tint           share of the area the dots cover on the plate, 0.05..0.95.
    lines_per_cm   screen ruling.
    angle_deg      of the screen, turned from + circumferential toward + lateral.
    phase          where a dot's centre lies against the mark's, in periods along the screen's
                   two directions: a screen does not know where a mark begins.
    """

    ink: str
    tint: float
    lines_per_cm: float = 54.0
    angle_deg: float = 45.0
    phase: tuple[float, float] = (0.0, 0.0)

    @property
    def reach_mm(self) -> float:
        """How far it carries ink beyond the mark's outline, mm."""
        return 0.0


@dataclass(frozen=True, slots=True)
class Hickey:
    """A grain stuck to the plate: prints as a spot with a bare ring around it.

    diameter_um of the spot, halo_um the width of the ring.
    """

    ink: str
    circumferential_mm: float
    lateral_mm: float
    diameter_um: float = 80.0
    halo_um: float = 60.0

    @property
    def reach_mm(self) -> float:
        """How far it carries ink beyond the mark's outline, mm."""
        return 0.0


@dataclass(frozen=True, slots=True)
class HalfPrint:
    """Too little impression: the ink fades out across a line through the mark.

    toward_deg   direction in which the ink goes missing, from + circumferential toward + lateral.
    at_mm        distance of that line (half of the ink left) from the mark's centre.
    fade_mm      over which the ink goes from all to nothing.
    """

    ink: str
    toward_deg: float
    at_mm: float
    fade_mm: float = 0.05

    @property
    def reach_mm(self) -> float:
        """How far it carries ink beyond the mark's outline, mm."""
        return 0.0


@dataclass(frozen=True, slots=True)
class Double:
    """A bounced plate printed twice: a weaker copy of the mark beside it.

    strength   share of the copy's area that took ink, 0..1.
    """

    ink: str
    circumferential_mm: float
    lateral_mm: float = 0.0
    strength: float = 0.4

    @property
    def reach_mm(self) -> float:
        """How far it carries ink beyond the mark's outline, mm."""
        return math.hypot(self.circumferential_mm, self.lateral_mm)


@dataclass(frozen=True, slots=True)
class Slur:
    """Plate and web at different speeds: the trailing edge (toward the unwind) is dragged out.

    strength   share of the tail's area inked where it begins; it thins out to nothing
               over length_um.
    """

    ink: str
    length_um: float
    strength: float = 0.7

    @property
    def reach_mm(self) -> float:
        """How far it carries ink beyond the mark's outline, mm."""
        return self.length_um / 1000.0


Defect = Halftone | Hickey | HalfPrint | Double | Slur
