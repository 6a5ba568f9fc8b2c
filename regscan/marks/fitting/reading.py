"""Reading: what patches of a frame show at the places of templates laid over them.

Marks are read, and then fitted, side by side: a fit is little arithmetic in many steps, and a
step costs nearly the same for one mark as for all of a frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from regscan.marks.shape.template import PARTS, TILE, Template

_ALL = slice(None)


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
    def tiles(self) -> tuple[np.ndarray, np.ndarray]:
        """Light and weight, each 2 x H x W: of every pixel, and of TILE x TILE about it.

        A tile with one unusable pixel is unusable: its mean would be of something else.
        """
        size = (TILE, TILE)
        single = np.ones_like(self.light) if self.weight is None else self.weight
        light, weight = np.empty((2, 2, *single.shape), np.float32)
        light[0], weight[0] = self.light, single
        cv2.blur(self.light, size, dst=light[1])
        cv2.boxFilter(single, -1, size, dst=weight[1], normalize=False)
        if not single.all():
            weight[1] *= cv2.erode(single, np.ones(size, np.uint8)) > 0.0
        return light, weight


@dataclass(frozen=True, slots=True)
class Laid:
    """A template laid over a patch with its centre at a place (row, col), px of the frame."""

    patch: Patch
    template: Template
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Reading:
    """M marks read side by side, each for a centre exactly where its template was laid.

    middle   M x 2, the templates' middle pixels there.
    rows     M x (P+1) x N, the linear model's parts (see Template.design) at every place, and
             last what the patch shows there.
    usable   M x N, the weight of that. N is the most places that a template has; of others the
             last ones are empty: zero rows and weight.
    edge     M x N bool, places along the printed edge.
    """

    laid: tuple[Laid, ...]
    middle: np.ndarray
    rows: np.ndarray
    usable: np.ndarray
    edge: np.ndarray

    @property
    def parts(self) -> np.ndarray:
        """M x P x N."""
        return self.rows[:, :-1]

    @property
    def light(self) -> np.ndarray:
        """M x N."""
        return self.rows[:, -1]

    def some(self, numbers: Sequence[int]) -> "Reading":
        """Of some of the marks."""
        pick = list(numbers)
        own = tuple(self.laid[number] for number in pick)
        return Reading(own, self.middle[pick], self.rows[pick], self.usable[pick], self.edge[pick])

    def one(self, number: int) -> "Reading":
        """One of the marks by itself, with the places that it has."""
        own = self.laid[number : number + 1]
        pick, places = slice(number, number + 1), slice(own[0].template.tile.size)
        return Reading(
            own,
            self.middle[pick],
            self.rows[pick, :, places],
            self.usable[pick, places],
            self.edge[pick, places],
        )


def read(laid: Sequence[Laid]) -> Reading:
    """Patches read at every place of the templates laid over them."""
    size = len(laid), max(one.template.tile.size for one in laid)
    rows = np.zeros((len(laid), PARTS + 1, size[1]))
    usable, edge = np.zeros(size), np.zeros(size, bool)
    middles = []
    for number, one in enumerate(laid):
        places = one.template.tile.size
        between = one.template.phases_about(*one.at)
        one.template.parts_at(between, rows[number, :PARTS, :places])
        light, weight = gathered(one.patch, one.template, between.middle)
        rows[number, PARTS, :places], usable[number, :places] = light, weight
        edge[number, :places] = one.template.edge
        middles.append(between.middle)
    return Reading(tuple(laid), np.array(middles), rows, usable, edge)


def gathered(
    patch: Patch, template: Template, middle: tuple[int, int], thin: slice = _ALL
) -> tuple[np.ndarray, np.ndarray]:
    """Light and weight at the template's places, or some (float32); weight 0 outside the patch."""
    down, right = middle[0] - patch.row, middle[1] - patch.col
    height, width = patch.light.shape
    index = template.index_in((height, width))[thin] + (down * width + right)
    inside = (
        down - template.half_rows >= TILE
        and right - template.half_cols >= TILE
        and down + template.half_rows < height - TILE
        and right + template.half_cols < width - TILE
    )
    light, weight = patch.tiles
    if inside:
        return light.ravel().take(index), weight.ravel().take(index)
    room = template.room[thin]
    rows, cols = template.places[:, thin] + np.array([[down], [right]])
    known = (rows >= room) & (rows < height - room) & (cols >= room) & (cols < width - room)
    index = np.where(known, index, 0)
    return light.ravel().take(index), weight.ravel().take(index) * known
