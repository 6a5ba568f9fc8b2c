"""Lens: what makes a camera's picture differ from a straight, square one, and how well it is known.

Two kinds of places, both (row, col) px: *seen* is where the green channel (or the only
one) shows something; *straight* is where a perfect camera of the same pixel size would
show it, so that one matrix takes it to the web. Every size is in px at the frame's
corner (half a diagonal from the middle): what stands there is how far a corner moves.

All functions take numbers or numpy arrays of one shape alike.
"""

import math
from dataclasses import dataclass
from typing import Any

Px = Any  # a number or an array of them

_ROUNDS = 60  # each brings the inverse nearer by the share the picture is bent


@dataclass(frozen=True, slots=True)
class LateralColour:
    """How far one channel's picture lies off the green one's.

    row_px, col_px   at the lens's centre.
    scale_px         outward at the corner, growing evenly with the distance from the centre.
    cubic_px         the same, growing with its cube.
    """

    row_px: float = 0.0
    col_px: float = 0.0
    scale_px: float = 0.0
    cubic_px: float = 0.0


@dataclass(frozen=True, slots=True)
class CalibrationDoubt:
    """What a calibration leaves unknown, one standard deviation each.

    circumferential_scale_ppm, lateral_scale_ppm   of a length on the web, parts in a million.
    rotation_deg    of the web's axes in the frame.
    residual_px     smooth bending of the picture that the lens does not describe.
    colour_px       place of red and blue against green.
    """

    circumferential_scale_ppm: float = 0.0
    lateral_scale_ppm: float = 0.0
    rotation_deg: float = 0.0
    residual_px: float = 0.0
    colour_px: float = 0.0


@dataclass(frozen=True, slots=True)
class Lens:
    """One camera's lens as it looks at the web.

    rows_px, cols_px  size of the frames it was found with; it holds for no other size.
    centre_px         (row, col) it bends about.
    radial_px         outward with the 3rd, 5th and 7th power of the distance (up to three).
    tangential_px     (row, col) of a decentred lens.
    keystone_px       (row, col) of a camera that does not look square at the web: a corner
                      in that direction is moved outward by so much, the opposite one inward.
    shear_px          by how much the middle of the right border is moved down.
    red, blue         where those channels lie against green.
    """

    rows_px: int
    cols_px: int
    centre_px: tuple[float, float]
    radial_px: tuple[float, ...] = ()
    tangential_px: tuple[float, float] = (0.0, 0.0)
    keystone_px: tuple[float, float] = (0.0, 0.0)
    shear_px: float = 0.0
    red: LateralColour = LateralColour()
    blue: LateralColour = LateralColour()
    doubt: CalibrationDoubt = CalibrationDoubt()

    @property
    def radius_px(self) -> float:
        """Half the frame's diagonal."""
        return math.hypot(self.rows_px, self.cols_px) / 2.0

    @property
    def parts_colours(self) -> bool:
        """True when red or blue lies anywhere but on green."""
        return any(colour != LateralColour() for colour in (self.red, self.blue))

    def straight(self, row_px: Px, col_px: Px) -> tuple[Px, Px]:
        """The straight place of a seen one."""
        size = self.radius_px
        down, right = self._from_centre(row_px, col_px)
        square = down * down + right * right
        outward = 0.0 * square
        for bend in reversed(self.radial_px):
            outward = (outward + bend / size) * square
        row_pull, col_pull = self.tangential_px[0] / size, self.tangential_px[1] / size
        along = 2.0 * (row_pull * down + col_pull * right)
        bent_down = down + (outward + along) * down + row_pull * square
        bent_right = right + (outward + along) * right + col_pull * square
        near = 1.0 - (self.keystone_px[0] * bent_down + self.keystone_px[1] * bent_right) / size
        down, right = bent_down / near, bent_right / near
        return (
            self.centre_px[0] + size * down + self.shear_px * right,
            self.centre_px[1] + size * right,
        )

    def seen(self, row_px: Px, col_px: Px) -> tuple[Px, Px]:
        """The seen place of a straight one; meant for places in or near the frame."""
        row, col = row_px, col_px
        for _ in range(_ROUNDS):
            at_row, at_col = self.straight(row, col)
            row, col = row + (row_px - at_row), col + (col_px - at_col)
        return row, col

    def colour_shift(self, colour: LateralColour, row_px: Px, col_px: Px) -> tuple[Px, Px]:
        """How far (row, col) px a channel shows what green shows at this place."""
        down, right = self._from_centre(row_px, col_px)
        outward = colour.scale_px + colour.cubic_px * (down * down + right * right)
        return colour.row_px + outward * down, colour.col_px + outward * right

    def _from_centre(self, row_px: Px, col_px: Px) -> tuple[Px, Px]:
        """(down, right) from the centre, 1 at the corner's distance."""
        size = self.radius_px
        return (row_px - self.centre_px[0]) / size, (col_px - self.centre_px[1]) / size
