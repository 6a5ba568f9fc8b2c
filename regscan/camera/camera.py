"""Camera: pixel places to web places, with their covariance.

Pixel convention: (row, col), centre of the top-left pixel is (0, 0), rows grow
downward. Web convention: + circumferential toward the unwind (late), + lateral
toward the drive side. See docs/conventions.md for the drawing.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from regscan.camera.direction import DirectionCheck
from regscan.camera.lens import Lens

Direction = Literal["up", "down", "left", "right"]
Tone = Literal["linear", "srgb"]
Mosaic = Literal["", "rggb", "bggr", "grbg", "gbrg"]

_NEAR_PX = 16  # places closer than this see a shape alike

# Unit step (row, col) of each direction in the image.
_STEP = {"up": (-1, 0), "down": (1, 0), "left": (0, -1), "right": (0, 1)}


@dataclass(frozen=True, slots=True)
class Camera:
    """One camera as its file describes it.

    row_mm_per_px, col_mm_per_px  size of one pixel on the web.
    web_travel   where the web moves to in the image.
    drive_side   where the press's drive side lies in the image; perpendicular to web_travel.
    rotation_deg how far the web's travel is turned clockwise in the image from
                 the nominal `web_travel` direction; small.
    tone         "srgb" when pixel values carry the sRGB curve, "linear" when they are light.
    mosaic       "" for demosaiced or mono frames, else the pattern of the top-left 2 x 2.
    lens         what bends its picture, from a calibration; None: taken as straight and square.
    direction    the known step that proved web_travel and drive_side; None: never checked.
    """

    row_mm_per_px: float
    col_mm_per_px: float
    web_travel: Direction = "up"
    drive_side: Direction = "right"
    rotation_deg: float = 0.0
    tone: Tone = "srgb"
    mosaic: Mosaic = ""
    name: str = ""
    lens: Lens | None = None
    direction: DirectionCheck | None = None

    @property
    def mm_per_px(self) -> float:
        """Geometric mean of the two pixel sizes, for sizes rather than places."""
        return math.sqrt(self.row_mm_per_px * self.col_mm_per_px)

    @property
    def matrix(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """M with (circumferential, lateral) mm = M @ (row, col) px, up to an origin."""
        sizes = self.row_mm_per_px, self.col_mm_per_px
        return _matrix(sizes, self.web_travel, self.drive_side, self.rotation_deg)

    def to_web(self, row_px: float, col_px: float) -> tuple[float, float]:
        """(circumferential_mm, lateral_mm) of a place in the frame; origin at pixel (0, 0),
        or near it where a lens bends the picture. Take differences of places, not of pixels."""
        if self.lens is not None:
            row_px, col_px = self.lens.straight(row_px, col_px)
        return self.step_to_web(row_px, col_px)

    def to_pixels(self, circumferential_mm: float, lateral_mm: float) -> tuple[float, float]:
        """(row, col) px of a web place; inverse of to_web."""
        row, col = self.step_to_pixels(circumferential_mm, lateral_mm)
        return (row, col) if self.lens is None else self.lens.seen(row, col)

    def step_to_web(self, rows_px: float, cols_px: float) -> tuple[float, float]:
        """(circumferential, lateral) mm of a step in px, as if the picture were straight."""
        (a, b), (c, d) = self.matrix
        return a * rows_px + b * cols_px, c * rows_px + d * cols_px

    def step_to_pixels(self, circumferential_mm: float, lateral_mm: float) -> tuple[float, float]:
        """(rows, cols) px of a step on the web, as if the picture were straight."""
        (a, b), (c, d) = self.matrix
        det = a * d - b * c
        return (
            (d * circumferential_mm - b * lateral_mm) / det,
            (-c * circumferential_mm + a * lateral_mm) / det,
        )

    def web_between(
        self, place_px: tuple[float, float], other_px: tuple[float, float]
    ) -> tuple[float, float]:
        """(circumferential, lateral) mm from `other_px` to `place_px`, places in the frame."""
        if self.lens is None:
            return self.step_to_web(place_px[0] - other_px[0], place_px[1] - other_px[1])
        (along, across), (from_along, from_across) = self.to_web(*place_px), self.to_web(*other_px)
        return along - from_along, across - from_across

    def near(self, row_px: float, col_px: float) -> "Camera":
        """The camera with pixel (0, 0) moved near this place, to draw a shape as seen there.

        Moved in whole steps, so that the same few cameras come up frame after frame.
        """
        if self.lens is None or not math.isfinite(row_px + col_px):
            return self
        centre = self.lens.centre_px
        row, col = (_NEAR_PX * round(place / _NEAR_PX) for place in (row_px, col_px))
        moved = replace(self.lens, centre_px=(centre[0] - row, centre[1] - col))
        return replace(self, lens=moved)

    def covariance_to_web(
        self, row_var: float, col_var: float, covar: float
    ) -> tuple[float, float, float]:
        """(circumferential variance, lateral variance, covariance) in mm^2 from px^2."""
        (a, b), (c, d) = self.matrix
        return (
            a * a * row_var + 2 * a * b * covar + b * b * col_var,
            c * c * row_var + 2 * c * d * covar + d * d * col_var,
            a * c * row_var + (a * d + b * c) * covar + b * d * col_var,
        )


@lru_cache(maxsize=64)  # asked for several times for every mark of a frame
def _matrix(
    sizes_mm: tuple[float, float], web_travel: Direction, drive_side: Direction, rotation_deg: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    turn = math.radians(rotation_deg)
    cos, sin = math.cos(turn), math.sin(turn)

    def turned(step: tuple[int, int]) -> tuple[float, float]:
        # Clockwise in an image whose rows grow downward: (row, col) -> right turns to down.
        row, col = step
        return row * cos + col * sin, -row * sin + col * cos

    travel, drive = turned(_STEP[web_travel]), turned(_STEP[drive_side])
    return (
        (-travel[0] * sizes_mm[0], -travel[1] * sizes_mm[1]),
        (drive[0] * sizes_mm[0], drive[1] * sizes_mm[1]),
    )
