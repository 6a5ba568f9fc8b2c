"""Starts: places where a damaged mark may be, by how much of its outline shows there, sharply.

What is left of a mark may look like another part of it: a square that lost half is as well the
other half. But where ink ends because the plate does, the edge is as sharp as the optics let it
be; where it ends for lack of impression it fades. So the outline is laid everywhere about a
place, and counted by its points at which light steps from paper to ink within the softness.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from regscan.marks.fitting.reading import Patch
from regscan.marks.shape.arcs import Arcs

_ASIDE = 1.5  # widths of the edge, and half a pixel, from it to where ink and paper are looked at
_STEP = 0.68  # of the contrast between them: of a sharp edge there is 0.87, 1 px off still 0.7
_SOLID = 0.98  # of a patch's pixels have less ink: half a small mark covers a twentieth of it
_REACH = 0.7  # of the outline's own reach, how far off a place the mark may be
_LEAST = 0.25  # of the outline
_APART_PX = 4
_MOST = 4
_ROOM = 3.0  # widths of the edge, and 3 px, about an outline's point: what tells of its place
_RIM = 1.7  # the same, and 1 px, about one that does not show: what damage reaches


@dataclass(frozen=True, slots=True)
class Start:
    """Where to start, px, and pixels (H x W bool) about the outline that shows there."""

    row_px: float
    col_px: float
    shows: np.ndarray


def starts_near(
    patch: Patch, arcs: Arcs, place: tuple[float, float], edge_px: float, sign: float
) -> list[Start]:
    """Likely places about one, most of the outline first; none where too little of it shows.

    edge_px   the edge's width, one sigma.
    sign      1 where ink gives more of the patch's light than paper, else -1.
    """
    if not arcs.count:
        return []
    reach = math.ceil(_REACH * float(np.abs(arcs.points).max()))
    line = np.arange(-reach, reach + 1)
    stepping = _stepping(patch, arcs, place, line, _ASIDE * edge_px + 0.5, sign)
    score = stepping.mean(axis=0, dtype=np.float32)
    found: list[Start] = []
    for _ in range(_MOST):
        _, best, _, (right, down) = cv2.minMaxLoc(score)
        if best < _LEAST:
            break
        row, col = place[0] + float(line[down]), place[1] + float(line[right])
        points = arcs.points + np.array([row - patch.row, col - patch.col])
        shown = stepping[:, down, right]
        there = _about(points[shown], patch.light.shape, _ROOM * edge_px + 3.0)
        spoilt = _about(points[~shown], patch.light.shape, _RIM * edge_px + 1.0)
        found.append(Start(row, col, there & ~spoilt))
        cv2.circle(score, (right, down), _APART_PX, 0.0, -1)
    return found


def _stepping(
    patch: Patch,
    arcs: Arcs,
    place: tuple[float, float],
    line: np.ndarray,
    aside: float,
    sign: float,
) -> np.ndarray:
    """N x R x R bool: at which of an outline's points light steps from paper to ink.

    line   R moves along either axis, px.   aside   how far from the edge it is looked at, px.
    sign   as in starts_near.
    """
    light = sign * patch.light
    contrast = float(np.quantile(light, _SOLID) - np.median(light))
    if patch.weight is not None:
        light = np.where(patch.weight > 0.0, light, np.float32(math.nan))
    middle = arcs.points + place - (patch.row, patch.col)
    inside, outside = (
        np.round(middle + far * arcs.outward).astype(int) + int(line[0]) for far in (-aside, aside)
    )
    # A piece of the picture for each point, cut where all moves are within it: NaN beyond.
    both = np.concatenate([inside, outside])
    before = np.maximum(-both.min(axis=0), 0)
    after = np.maximum(both.max(axis=0) + line.size - light.shape, 0)
    room = np.pad(
        light, list(zip(before, after, strict=True)), constant_values=np.float32(math.nan)
    )
    stepping = np.empty((len(inside), line.size, line.size), bool)
    pieces = np.lib.stride_tricks.sliding_window_view(room, (line.size, line.size))
    for steps, own, beside in zip(stepping, inside + before, outside + before, strict=True):
        np.greater(pieces[tuple(own)] - pieces[tuple(beside)], _STEP * contrast, out=steps)
    return stepping


def _about(points: np.ndarray, size: tuple[int, ...], reach_px: float) -> np.ndarray:
    """H x W bool, pixels within reach of points (K x 2)."""
    radius = math.ceil(reach_px)
    picture = np.zeros(size, np.uint8)
    for row, col in np.round(points).astype(int).tolist():
        cv2.circle(picture, (col, row), radius, 1, -1)
    return picture > 0
