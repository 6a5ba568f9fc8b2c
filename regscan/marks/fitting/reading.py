"""Reading: what patches of a frame show at the places of templates laid over them.

Marks are read, and then fitted, side by side: a fit is little arithmetic in many steps, and a
step costs nearly the same for one mark as for all of a frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import cv2
import numpy as np

from regscan.marks.shape.template import PARTS, TILE, Template

_ALL = slice(None)
INSIDE: Final = "clip"  # mode of `take` where all indices are good: not looking takes half as long


@dataclass(frozen=True)
class Patch:
    """A piece of the frame: light as one number per pixel, and which pixels may be used.

    light   H x W float32, along the colour direction in which this ink stands out most.
    weight  H x W float32: 0 where something else is printed, else the square of how
            well the pixel is known relative to the others. None for all alike.
    row, col   where the patch's top-left pixel lies in the frame.
    """

    light: np.ndarray
    weight: np.ndarray | None = None
    row: int = 0
    col: int = 0

    @cached_property
    def means(self) -> np.ndarray:
        """H x W, mean light of TILE x TILE about every pixel."""
        return np.asarray(cv2.blur(self.light, (TILE, TILE)))

    @cached_property
    def broken(self) -> np.ndarray | None:
        """H x W bool, tiles with an unusable pixel, which are unusable: their mean would be of
        something else; None where all pixels are usable."""
        if self.weight is None or self.weight.all():
            return None
        return np.asarray(cv2.erode(self.weight, np.ones((TILE, TILE), np.uint8)) <= 0.0)


@dataclass(frozen=True, slots=True)
class Laid:
    """A template laid over a patch with its centre at a place (row, col), px of the frame."""

    patch: Patch
    template: Template
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stack:
    """M templates side by side, whatever they are laid over: float32, but for edge and pixel.
    N is the most places that one has; of others the last ones are empty: zeros.

    counts   M, places of each.
    paper    M x 3 x N, the paper's parts of the model (see Template.design).
    edge     M x N bool, places along the printed edge.
    web      M x 2 x N, mm on the web from the middle pixels.
    pixel    M x 2 x N int32, rows and columns from them.
    area     M x N, pixels that a place stands for.
    """

    counts: tuple[int, ...]
    paper: np.ndarray
    edge: np.ndarray
    web: np.ndarray
    pixel: np.ndarray
    area: np.ndarray

    @staticmethod
    def of(templates: Sequence[Template]) -> "Stack":
        """Templates put side by side."""
        return Stack(
            tuple(template.tile.size for template in templates),
            side_by_side([template.paper for template in templates]),
            side_by_side([template.edge for template in templates]),
            side_by_side([template.web_mm for template in templates]),
            side_by_side([template.places.astype(np.int32) for template in templates]),
            side_by_side([template.areas_px for template in templates]),
        )

    def some(self, numbers: Sequence[int]) -> "Stack":
        """Some of them."""
        counts = tuple(self.counts[number] for number in numbers)
        pick, places = _chosen(numbers), slice(max(counts))
        arrays = self.paper, self.edge, self.web, self.pixel, self.area
        return Stack(counts, *(array[pick, ..., places] for array in arrays))


def _chosen(numbers: Sequence[int]) -> slice | list[int]:
    """What picks some marks out of an array; of one, without a copy."""
    return slice(numbers[0], numbers[0] + 1) if len(numbers) == 1 else list(numbers)


# Frame after frame shows the same marks. More than a few would hold on to templates.
_stacked = lru_cache(maxsize=4)(Stack.of)


def side_by_side(arrays: Sequence[np.ndarray]) -> np.ndarray:
    """M arrays that differ in the length of their last axis, as one; short ones end in zeros."""
    most = max(array.shape[-1] for array in arrays)
    both = np.zeros((len(arrays), *arrays[0].shape[:-1], most), arrays[0].dtype)
    for row, array in zip(both, arrays, strict=True):
        row[..., : array.shape[-1]] = array
    return both


@dataclass(frozen=True, slots=True)
class Reading:
    """M marks read side by side, each for a centre exactly where its template was laid.

    middle   M x 2, the templates' middle pixels there.
    rows     M x (P+1) x N float32, the linear model's parts (see Template.design) at every place,
             and last what the patch shows there. N as in Stack.
    usable   M x N float32, the weight of that.
    """

    laid: tuple[Laid, ...]
    stack: Stack
    middle: np.ndarray
    rows: np.ndarray
    usable: np.ndarray

    @property
    def parts(self) -> np.ndarray:
        """M x P x N."""
        return self.rows[:, :-1]

    @property
    def light(self) -> np.ndarray:
        """M x N."""
        return self.rows[:, -1]

    def some(self, numbers: Sequence[int]) -> "Reading":
        """Some of the marks by themselves, with no more places than they have."""
        pick, stack = _chosen(numbers), self.stack.some(numbers)
        places = slice(max(stack.counts))
        return Reading(
            tuple(self.laid[number] for number in numbers),
            stack,
            self.middle[pick],
            self.rows[pick, :, places],
            self.usable[pick, places],
        )


def read(laid: Sequence[Laid]) -> Reading:
    """Patches read at every place of the templates laid over them."""
    stack = _stacked(tuple(one.template for one in laid))
    size = len(laid), max(stack.counts)
    rows = np.empty((len(laid), PARTS + 1, size[1]), np.float32)
    usable = np.empty(size, np.float32)
    rows[:, :3] = stack.paper
    middles = []
    for number, (one, count) in enumerate(zip(laid, stack.counts, strict=True)):
        between = one.template.phases_about(*one.at)
        rows[number, 3:9, :count] = one.template.ink_at(between)
        light, weight = gathered(one.patch, one.template, between.middle)
        rows[number, PARTS, :count], usable[number, :count] = light, weight
        rows[number, 3:, count:], usable[number, count:] = 0.0, 0.0
        middles.append(between.middle)
    np.multiply(rows[:, 1:3], rows[:, 3:4], out=rows[:, 9:PARTS])
    return Reading(tuple(laid), stack, np.array(middles, np.int32), rows, usable)


def gathered(
    patch: Patch, template: Template, middle: tuple[int, int], *, thin: bool = False
) -> tuple[np.ndarray, np.ndarray]:
    """Light and weight at the template's places, or the thin ones (float32); weight 0 outside the
    patch. All pixels of a flat are known as well as its middle one."""
    down, right = middle[0] - patch.row, middle[1] - patch.col
    height, width = patch.light.shape
    some = template.thin if thin else _ALL
    flats = template.thin_flats if thin else template.flats
    index = template.index_in(width)[some] + (down * width + right)
    weight = template.areas_px[some].copy()
    room = TILE // 2  # the most that a place needs about it
    inside = (
        down - template.half_rows >= room
        and right - template.half_cols >= room
        and down + template.half_rows < height - room
        and right + template.half_cols < width - room
    )
    if not inside:
        rooms = template.room[some]
        rows, cols = template.places[:, some] + np.array([[down], [right]])
        known = (rows >= rooms) & (rows < height - rooms) & (cols >= rooms) & (cols < width - rooms)
        index, weight = np.where(known, index, 0), weight * known
    tiles = index.take(flats, mode=INSIDE)
    light = patch.light.ravel().take(index, mode=INSIDE)
    light[flats] = patch.means.ravel().take(tiles, mode=INSIDE)
    if patch.weight is not None:
        weight *= patch.weight.ravel().take(index, mode=INSIDE)
    if patch.broken is not None:
        weight[flats] *= ~patch.broken.ravel().take(tiles, mode=INSIDE)
    return light, weight
