"""A mark printed as a tint: its dots found inside it, then its outline where that cuts them.

To a fit of a solid the dots are noise that is the same in every frame: they pull it by some
micrometres, and it looks misshapen. With the dots drawn in, the outline's place comes from
where dots are cut and where none are left, as sharply as from a solid's edge.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import Shape
from regscan.marks.fitting.fit import Fit, fit_mark
from regscan.marks.fitting.looks import near_enough, seen_by
from regscan.marks.fitting.reading import Laid, Patch, read
from regscan.marks.fitting.solve import rough_of
from regscan.marks.shape.planes import Dots
from regscan.marks.shape.screen import Screen, screen_of
from regscan.marks.shape.template import Appearance, Template

_INSIDE = 0.995  # ink of the solid's picture where the outline's softness does not reach
_MOST_LOOKS = 5
# What dots that are cut where none was seen whole leave of an error, one sigma: twice the rms
# on drawn tints without noise or roughness (0.0043 px), whose tails are long.
_MODEL_PX = 0.01
# Edges of dots hang together less far along an outline than a solid's edge does, so sectors left
# out feel more of how rough they are (1.5 for solids): errors of 239 drawn tints are 0.98 of their
# stated sd with this, 0.88 with that of solids.
_UNFELT = 1.2
_STAYS_PX = 0.05  # dots are drawn about a centre: further off, they are drawn anew
_BETTER = 0.5  # of the misfit of the fit of a solid
_EXPLAINED = 0.08  # of the contrast: drawn tints leave 0.03 to 0.05; more is no screen


@dataclass(frozen=True, slots=True)
class Tint:
    """The fit of a screened mark, and the template and look it was made with."""

    fit: Fit
    template: Template
    look: Appearance


def tint_of(
    patch: Patch, shape: Shape, camera: Camera, fit: Fit, template: Template, look: Appearance
) -> Tint | None:
    """A mark fitted as a tint; None for one that shows no screen.

    fit, template   of the mark taken for a solid.
    look            of other marks.
    """
    screen = _screen(patch, camera, fit, template, look)
    if screen is None:
        return None

    drawn = partial(Template, shape, camera)
    tint = _settled(patch, drawn, screen, (fit.row_px, fit.col_px), look)
    if tint is None or tint.fit.misfit > min(_BETTER * fit.misfit, _EXPLAINED):
        return None
    wander = replace(tint.fit.wander, model=_MODEL_PX, unfelt=_UNFELT)
    return replace(tint, fit=replace(tint.fit, wander=wander))


def _settled(
    patch: Patch,
    drawn: Callable[[Appearance, Dots], Template],
    screen: Screen,
    centre: tuple[float, float],
    look: Appearance,
) -> Tint | None:
    """The fit near a centre, with the look it then has and dots where the screen has them."""
    found = None
    for _ in range(_MOST_LOOKS):
        template = drawn(look, partial(screen.ink_about, centre))
        fit = fit_mark(patch, template, *centre, near=True)
        if fit is None:
            return None
        moved = math.hypot(fit.row_px - centre[0], fit.col_px - centre[1])
        found, centre = Tint(fit, template, look), (fit.row_px, fit.col_px)
        if near_enough(look, fit) and moved < _STAYS_PX:
            break
        look = seen_by(look, fit).rounded()
    return found


def _screen(
    patch: Patch, camera: Camera, fit: Fit, template: Template, look: Appearance
) -> Screen | None:
    """The screen inside a mark that was fitted as a solid."""
    seen = read([Laid(patch, template, (fit.row_px, fit.col_px))])
    theta = rough_of(seen.parts[0], seen.light[0], seen.usable[0])
    middle = seen.middle[0].tolist()
    height, width = patch.light.shape
    down = (np.arange(height) + (patch.row - middle[0]))[:, None] / template.half_rows
    right = (np.arange(width) + (patch.col - middle[1])) / template.half_cols
    ink = (patch.light - (theta[0] + theta[1] * down + theta[2] * right)) / theta[3]
    picture = template.picture(template.phase_of(*seen.laid[0].at)[0])
    solid = cv2.erode((picture > _INSIDE).astype(np.uint8), np.ones((3, 3), np.uint8))
    inside = np.zeros((height, width), bool)
    top = middle[0] - template.half_rows - patch.row
    left = middle[1] - template.half_cols - patch.col
    rows, cols = np.nonzero(solid)
    rows, cols = rows + top, cols + left
    within = (rows >= 0) & (rows < height) & (cols >= 0) & (cols < width)
    inside[rows[within], cols[within]] = True
    if patch.weight is not None:
        inside &= patch.weight > 0.0
    return screen_of(ink, inside, (patch.row, patch.col), camera, look.softness)
