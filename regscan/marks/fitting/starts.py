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
    reach = math.ceil(_REACH * float(np.abs(arcs.points).max(initial=0.0)))
    line = np.arange(-reach, reach + 1)
    stepping = _stepping(patch, arcs, place, line, _ASIDE * edge_px + 0.5, sign)
    score = stepping.mean(axis=2, dtype=np.float32)
    found: list[Start] = []
    for _ in range(_MOST):
        _, best, _, (right, down) = cv2.minMaxLoc(score)
        if best < _LEAST:
            break
        row, col = place[0] + float(line[down]), place[1] + float(line[right])
        points = arcs.points + np.array([row - patch.row, col - patch.col])
        shown = stepping[down, right]
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
    """R x R x N bool: at which of an outline's points light steps from paper to ink.

    line   R moves along either axis, px.   aside   how far from the edge it is looked at, px.
    sign   as in starts_near.
    """
    light = sign * patch.light
    contrast = float(np.quantile(light, _SOLID) - np.median(light))
    if patch.weight is not None:
        light = np.where(patch.weight > 0.0, light, np.float32(math.nan))
    middle = arcs.points + place - (patch.row, patch.col)
    inside = _moved(light, middle - aside * arcs.outward, line)
    outside = _moved(light, middle + aside * arcs.outward, line)
    return np.asarray(inside - outside > _STEP * contrast)


def _moved(light: np.ndarray, points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """R x R x N, light at the pixels nearest to points (N x 2), moved; NaN beyond the patch."""
    height, width = light.shape
    at = np.round(points).astype(int)
    rows, cols = at[:, 0] + line[:, None], at[:, 1] + line[:, None]
    within = ((rows >= 0) & (rows < height))[:, None] & ((cols >= 0) & (cols < width))[None]
    rows, cols = np.clip(rows, 0, height - 1), np.clip(cols, 0, width - 1)
    return np.where(within, light[rows[:, None], cols[None]], np.float32(math.nan))


def _about(points: np.ndarray, size: tuple[int, ...], reach_px: float) -> np.ndarray:
    """H x W bool, pixels within reach of points (K x 2)."""
    radius = math.ceil(reach_px)
    picture = np.zeros(size, np.uint8)
    for row, col in np.round(points).astype(int).tolist():
        cv2.circle(picture, (col, row), radius, 1, -1)
    return picture > 0
