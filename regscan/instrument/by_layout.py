"""Marks of an approved sheet found without knowing any colour: by layout and shape alone.

Whatever differs from the bare substrate is printed; each mark's shape is matched with
that, and the layout says which places can be one print. This needs marks that stand
clear of each other and lie near their design places, as on an approved sheet.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.pure_colour import Spot, bare_colour
from regscan.job.layout import MarkDesign
from regscan.job.shapes import extent_mm
from regscan.marks.seeing.light import colour_planes, to_light
from regscan.marks.shape.stencil import SAMPLES, stencil
from regscan.recording.frame import Frame

WINDOW_MM = 1.0  # how far a colour of an approved sheet may lie from its design place
_WINDOW_SHARE = 0.4  # of the way to the nearest other mark
_LEAST_LIKENESS = 0.55
_LEAST_COVER = 0.4  # of a shape's area that must be printed
_CLEARLY = 0.4  # likeness summed over all marks by which one reading must beat any other
_PLACE_COST = 0.35
_PEAKS = 8
_STROKE_PX = 2.2  # the narrowest part of a mark in the shrunken picture
_SIZE_PX = 9.0
_PRINTED = 0.03  # square-root light: nothing nearer to the substrate counts as printed


@dataclass(frozen=True, slots=True)
class Reading:
    """What the layout made of one frame.

    spots   every mark, or none where the frame cannot be read.   why   the reason then.
    """

    spots: tuple[Spot, ...] = ()
    why: str = ""


def too_close(designs: Sequence[MarkDesign], camera: Camera) -> list[tuple[str, str]]:
    """Inks whose marks touch or cover each other by design: layout cannot tell them apart."""
    pairs = []
    room_mm = 8.0 * camera.mm_per_px
    for k, one in enumerate(designs):
        for other in designs[:k]:
            reach = (extent_mm(one.shape) + extent_mm(other.shape)) / 2.0 + room_mm
            if one.edge == other.edge and _apart_mm(one, other) < reach:
                pairs.append((other.ink, one.ink))
    return pairs


def read_by_layout(frame: Frame, camera: Camera, designs: Sequence[MarkDesign]) -> Reading:
    """Every mark of the layout in a frame, or why it cannot be told."""
    planes = colour_planes(frame.pixels, camera)
    factor = _factor(designs, camera)
    size = planes.shape[1] // factor, planes.shape[0] // factor
    small = cv2.resize(
        planes[: size[1] * factor, : size[0] * factor], size, interpolation=cv2.INTER_AREA
    ).reshape(size[1], size[0], -1)
    printed = _printed(to_light(small, camera.tone, frame.full_scale))
    peaks = [_peaks(printed, design, camera, factor) for design in designs]
    lacking = [d.ink for d, found in zip(designs, peaks, strict=True) if not len(found)]
    if lacking:
        return Reading(why=f"nothing of the shape of {' or '.join(lacking)} is printed in it")
    return _by_common_shift(designs, camera, peaks)


def _factor(designs: Sequence[MarkDesign], camera: Camera) -> int:
    """How much a frame may be shrunk with every shape still to be told."""
    masks = [stencil(design.shape, camera, 0.0) for design in designs]
    sizes = [min(mask.inside.shape) / SAMPLES / _SIZE_PX for mask in masks]
    # Area over half the outline: the width of a stroke.
    strokes = [2.0 * mask.inside.sum() / SAMPLES**2 / mask.outline_px for mask in masks]
    return max(1, int(min(*sizes, *(stroke / _STROKE_PX for stroke in strokes))))


def _printed(light: np.ndarray) -> np.ndarray:
    """How surely each pixel is printed, 0 to 1 (float32), whatever the colour."""
    bare = bare_colour(light)
    shares = light / np.maximum(bare, 1e-3)
    logs = np.log(np.maximum(shares.mean(axis=2), 1e-3))
    size = (max(light.shape[:2]) // 4 * 2 + 1,) * 2
    level = np.zeros(logs.shape)
    for spread in (0.45, 0.12):
        # Uneven light: the substrate's own level, from pixels that may be bare.
        like = (np.abs(logs - level) < spread).astype(np.float32)
        weight = cv2.blur(like, size, borderType=cv2.BORDER_ISOLATED)
        total = cv2.blur((logs * like).astype(np.float32), size, borderType=cv2.BORDER_ISOLATED)
        level = np.where(weight > 0.02, total / np.maximum(weight, 1e-6), level)
    local = np.exp(level)[:, :, None] * bare
    gap = np.linalg.norm(np.sqrt(light) - np.sqrt(local), axis=2)
    grain = 1.4826 * float(np.median(gap[gap < np.quantile(gap, 0.5)], axis=0))
    least = max(_PRINTED, 4.0 * grain)
    return np.clip(gap / least - 1.0, 0.0, 1.0).astype(np.float32)


def _peaks(printed: np.ndarray, design: MarkDesign, camera: Camera, factor: int) -> np.ndarray:
    """N x 3: row, col (full-frame px) and likeness of the best places of one shape."""
    shape, middle = _small_shape(design, camera, factor)
    if shape.shape[0] > printed.shape[0] or shape.shape[1] > printed.shape[1]:
        return np.empty((0, 3))
    likeness = cv2.matchTemplate(printed, shape, cv2.TM_CCOEFF_NORMED)
    strength = cv2.matchTemplate(printed, shape, cv2.TM_CCORR) / float((shape * shape).sum())
    # Where next to nothing is printed the correlation is rounding noise.
    likeness[~np.isfinite(likeness) | (strength < _LEAST_COVER)] = -1.0
    reach = max(min(shape.shape) // 3, 1)
    found = []
    for _ in range(_PEAKS):
        row, col = map(int, np.unravel_index(int(likeness.argmax()), likeness.shape))
        best = float(likeness[row, col])
        if best < _LEAST_LIKENESS:
            break
        place = [
            (at + mid + 0.5) * factor - 0.5 for at, mid in ((row, middle[0]), (col, middle[1]))
        ]
        found.append((*place, best))
        likeness[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1] = -1
    return np.array(found).reshape(-1, 3)


def _small_shape(
    design: MarkDesign, camera: Camera, factor: int
) -> tuple[np.ndarray, tuple[float, float]]:
    """The mark's mask at the shrunken scale with a rim of substrate, and its middle there."""
    inside = stencil(design.shape, camera, 0.0).inside
    step = factor * SAMPLES
    pads = []
    for length in inside.shape:
        want = (math.ceil(length / step) + 2) * step
        before = (want - length) // 2
        pads.append((before, want - length - before))
    padded = np.pad(inside, pads).astype(np.float32)
    size = padded.shape[1] // step, padded.shape[0] // step
    middle = tuple(
        (pad[0] + length / 2.0) / step - 0.5 for pad, length in zip(pads, inside.shape, strict=True)
    )
    return cv2.resize(padded, size, interpolation=cv2.INTER_AREA), (middle[0], middle[1])


def _by_common_shift(
    designs: Sequence[MarkDesign], camera: Camera, peaks: Sequence[np.ndarray]
) -> Reading:
    """The one shift of the layout at which every mark has its print; it must be the only one."""
    design_px = np.array(
        [camera.step_to_pixels(d.circumferential_mm, d.lateral_mm) for d in designs]
    )
    window = _window_mm(designs) / camera.mm_per_px
    shifts = [found[:, :2] - place for found, place in zip(peaks, design_px, strict=True)]
    anchors = np.concatenate(shifts)
    scores = np.zeros(len(anchors))
    for shift, found in zip(shifts, peaks, strict=True):
        gap = np.linalg.norm(anchors[:, None] - shift[None], axis=2) / window
        worth = np.where(gap <= 1.0, found[None, :, 2] - _PLACE_COST * gap**2, 0.0)
        scores += worth.max(axis=1)
    best = int(scores.argmax())
    other = np.linalg.norm(anchors - anchors[best], axis=1) > window
    if other.any() and scores[other].max() > scores[best] - _CLEARLY:
        return Reading(why="the marks could be read in two ways; their layout repeats itself")
    spots = []
    for design, shift, found in zip(designs, shifts, peaks, strict=True):
        gap = np.linalg.norm(shift - anchors[best], axis=1) / window
        worth = np.where(gap <= 1.0, found[:, 2] - _PLACE_COST * gap**2, 0.0)
        if worth.max() <= 0.0:
            return Reading(why=f"{design.ink} is not where the other marks put it")
        row, col, _ = found[worth.argmax()]
        spots.append(Spot(design, float(row), float(col)))
    return Reading(tuple(spots))


def _window_mm(designs: Sequence[MarkDesign]) -> float:
    apart = [_apart_mm(a, b) for k, a in enumerate(designs) for b in designs[:k]]
    return min([WINDOW_MM, *(_WINDOW_SHARE * gap for gap in apart if gap > 0.0)])


def _apart_mm(one: MarkDesign, other: MarkDesign) -> float:
    return math.hypot(
        one.circumferential_mm - other.circumferential_mm, one.lateral_mm - other.lateral_mm
    )
