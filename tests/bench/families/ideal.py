"""The ideal fit: told shape, blur, colours, light and noise; only the places are fitted.

Weighted least squares on the pixels, all marks of a cluster together, one Gauss-Newton
step from the truth and a second with the same derivatives; derivatives are differences
of drawings by the simulator itself. Its error is the floor that image noise and print
roughness set: it is not told how edges wander, what grain the substrate has, or where a
screen's dots lie against the mark's outline (that is fitted too). Pixels that holes,
hickeys, missing impression or specks have changed are left out: it knows which those are.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.families.case import Case
from bench.families.drawing import Drawing, margin_px, without_chance
from bench.families.freedoms import Freedom, freedoms_of
from regscan.recording.frame import Frame
from regscan.simulator.defects import HalfPrint, Hickey
from regscan.simulator.layers import Layer
from regscan.simulator.look import Look
from regscan.simulator.printed import Window

_STEP_PX = 0.05
_CHANGED = 1.0 / 255.0
_UNKNOWN_PX = 1000.0  # how well a place is known before any pixel is seen
_LOST_PX = 20.0  # a place known no better than this is not known


@dataclass(frozen=True, slots=True)
class Place:
    """A centre in px with its sd; NaN where the pixels say nothing about it."""

    row_px: float
    col_px: float
    row_sd_px: float = math.nan
    col_sd_px: float = math.nan


NOWHERE = Place(math.nan, math.nan)


def ideal_places(case: Case, frame: Frame, *, told: bool = True) -> list[Place]:
    """One place per drawn mark, in the order of the truth's marks.

    told   False where how far and how strong marks are doubled or slurred is to be fitted too.
    """
    known = Drawing(case, _known(case.scene.look))
    spoiled = _spoiled(case, known)
    seen = frame.pixels / frame.full_scale
    places: dict[int, Place] = {}
    for members, window in _clusters(case, known):
        part = _Part(
            known, window, margin_px(case), told, seen[window.slices], ~spoiled[window.slices]
        )
        for number, place in zip(members, part.fitted(members), strict=True):
            places[number] = place
    return [places.get(number, NOWHERE) for number in range(len(known.truth.marks))]


def _known(look: Look) -> Look:
    lost = (Hickey, HalfPrint)
    kept = tuple(defect for defect in look.defects if not isinstance(defect, lost))
    return replace(without_chance(look), defects=kept)


def _spoiled(case: Case, known: Drawing) -> np.ndarray:
    """Pixels changed by what the fit cannot know the shape of, rows x cols bool."""
    look = case.scene.look
    spoiled = np.zeros(known.size, bool)
    even = replace(without_chance(look), specks=look.specks)
    if look.specks.count or any(isinstance(d, Hickey | HalfPrint) for d in look.defects):
        spoiled |= _differing(Drawing(case, even), known)
    if look.print.pinholes_per_mm2 > 0.0:
        whole = replace(look, print=replace(look.print, pinholes_per_mm2=0.0))
        spoiled |= _differing(Drawing(case, look), Drawing(case, whole))
    return spoiled


def _differing(one: Drawing, other: Drawing) -> np.ndarray:
    change = np.abs(one.values(one.layers) - other.values(other.layers))
    changed = change if change.ndim == 2 else change.max(axis=2)
    return np.asarray(changed > _CHANGED)


def _clusters(case: Case, known: Drawing) -> list[tuple[list[int], Window]]:
    """Marks whose surroundings meet, and the window around each such cluster."""
    around = margin_px(case)
    clusters: list[tuple[list[int], Window]] = []
    for layer in known.layers:
        window = known.window(layer, around)
        if layer.number >= len(known.truth.marks) or window is None:
            continue
        members, grown = [layer.number], window
        while met := next((c for c in clusters if _meet(c[1], grown)), None):
            clusters.remove(met)
            members, grown = met[0] + members, _joined(met[1], grown)
        clusters.append((members, grown))
    return clusters


def _meet(one: Window, other: Window) -> bool:
    rows = one.top < other.bottom and other.top < one.bottom
    return rows and one.left < other.right and other.left < one.right


def _joined(one: Window, other: Window) -> Window:
    return Window(
        min(one.top, other.top),
        min(one.left, other.left),
        max(one.bottom, other.bottom),
        max(one.right, other.right),
    )


@dataclass(frozen=True)
class _Part:
    """One cluster's pixels, and the drawing that should explain them."""

    known: Drawing
    window: Window
    around: float
    told: bool
    seen: np.ndarray
    usable: np.ndarray

    def fitted(self, members: Sequence[int]) -> list[Place]:
        """The places of these marks, all fitted together."""
        moves = [(number, k) for number in members for k in range(len(self._freedoms(number)))]
        start = self._values({}, self.window)
        slopes = np.stack([self._slope(*move, start) for move in moves], axis=1)
        weight = self._usable(start) / self.known.variance(start).ravel()
        normal = (slopes * weight[:, None]).T @ slopes
        covariance = np.linalg.inv(normal + np.eye(len(moves)) / _UNKNOWN_PX**2)
        total = np.zeros(len(moves))
        for _ in range(2):
            moved = self._all_moved(moves, total)
            drawn = self._values(moved, self.window) if total.any() else start
            step = covariance @ (slopes.T @ (weight * (self.seen - drawn).ravel()))
            total += np.clip(step, -3.0, 3.0)
        sd = np.sqrt(np.diag(covariance))
        firsts = [moves.index((number, 0)) for number in members]
        return [
            self._place(self._layer(number), total[k : k + 2], sd[k : k + 2])
            for number, k in zip(members, firsts, strict=True)
        ]

    def _freedoms(self, number: int) -> list[Freedom]:
        return freedoms_of(self._layer(number), self.known.scene.camera, told=self.told)

    def _place(self, layer: Layer, by: np.ndarray, sd: np.ndarray) -> Place:
        if max(sd) > _LOST_PX:
            return NOWHERE
        row, col = layer.row_px + by[0], layer.col_px + by[1]
        return Place(float(row), float(col), float(sd[0]), float(sd[1]))

    def _layer(self, number: int) -> Layer:
        return next(layer for layer in self.known.layers if layer.number == number)

    def _values(self, moved: Mapping[int, Layer], window: Window) -> np.ndarray:
        layers = [moved.get(layer.number, layer) for layer in self.known.layers]
        return self.known.values(layers, window)

    def _slope(self, number: int, freedom: int, start: np.ndarray) -> np.ndarray:
        """Change of every value of the window per px of one move; zero away from the mark."""
        near = self.known.window(self._layer(number), self.around)
        assert near is not None
        moved = self._freedoms(number)[freedom](self._layer(number), _STEP_PX)
        rows = slice(near.top - self.window.top, near.bottom - self.window.top)
        cols = slice(near.left - self.window.left, near.right - self.window.left)
        slope = np.zeros(start.shape)
        slope[rows, cols] = (self._values({number: moved}, near) - start[rows, cols]) / _STEP_PX
        return slope.ravel()

    def _all_moved(self, moves: Sequence[tuple[int, int]], total: np.ndarray) -> dict[int, Layer]:
        moved = {number: self._layer(number) for number, _ in moves}
        for (number, freedom), by in zip(moves, total, strict=True):
            moved[number] = self._freedoms(number)[freedom](moved[number], float(by))
        return moved

    def _usable(self, values: np.ndarray) -> np.ndarray:
        usable = self.usable if values.ndim == 2 else self.usable[..., None]
        return np.broadcast_to(usable, values.shape).ravel()
