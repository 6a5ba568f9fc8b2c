"""Solve: lens, plane and poses by least squares, robustly first and then without strays."""

import numpy as np
from scipy.optimize import least_squares

from regscan.camera.lens import Lens
from regscan.instrument.grid.found import GridFit
from regscan.instrument.grid.middles import middle_shifts
from regscan.instrument.grid.model import POSE, Layout
from regscan.instrument.grid.orient import oriented
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.grid.steps import SmallSteps, seen_residuals

STRAYS = 5.0  # residuals beyond this many spreads are dust, not dots
_LEAST_SPREAD_PX = 1e-4
_STEP_PX = 0.01
_ROUNDS = 8
_STILL_PX = 0.02
_FIRST_PX = 0.5  # residuals that a first guess may have before they lose weight


class Task:
    """The nodes of all frames, oriented alike, with a first guess of where each grid lies."""

    def __init__(self, grids: tuple[SeenGrid, ...], pitch_mm: float, facing: np.ndarray) -> None:
        self.grids, self.facing = grids, facing
        rows, cols = grids[0].size
        self.lens = Lens(rows, cols, ((rows - 1) / 2.0, (cols - 1) / 2.0))
        self.nodes, self.starts = [], []
        for grid in grids:
            nodes, start = oriented(grid, facing, pitch_mm, self.lens.radius_px)
            self.nodes.append(nodes)
            self.starts.append(start)
        self.places = [grid.places for grid in grids]
        self.pitch_mm = pitch_mm
        self.grids_mm = [nodes * pitch_mm for nodes in self.nodes]
        self.count = sum(len(nodes) for nodes in self.nodes)

    def fit(self, layout: Layout, start: np.ndarray | None = None) -> GridFit:
        """Robust, then without strays by plain least squares.

        start   a vector near the answer; None for the first guess.
        """
        everything = [np.ones(len(nodes), bool) for nodes in self.nodes]
        vector = self._start(layout) if start is None else start
        if start is None:
            vector = self._solved(layout, vector, everything, _FIRST_PX)[0]
        scale = max(1.5 * self._spread(layout, vector), 0.005)
        vector = self._solved(layout, vector, everything, scale)[0]
        limit = STRAYS * max(self._spread(layout, vector), _LEAST_SPREAD_PX)
        used = [(np.abs(r) < limit).all(axis=1) for r in self._residuals(layout, vector)]
        vector, covariance = self._solved(layout, vector, used, None)
        residuals = tuple(self._residuals(layout, vector))
        nodes = tuple(self.nodes)
        return GridFit(layout, vector, covariance, self.grids, nodes, residuals, tuple(used))

    def find_middles(self, fit: GridFit) -> None:
        """From now on take for a dot's place where its middle is seen, by what a fit says."""
        for frame, grid in enumerate(self.grids):
            radius_mm = grid.dot_px / grid.pitch_px * self.pitch_mm / 2.0
            row, col = fit.layout.px_per_mm(fit.vector, frame)
            straight = fit.layout.predicted(fit.vector, frame, self.grids_mm[frame])
            lens = fit.layout.lens(fit.vector, frame)
            shifts = middle_shifts(lens, straight, (radius_mm * row, radius_mm * col))
            self.places[frame] = grid.places - shifts

    def _start(self, layout: Layout) -> np.ndarray:
        vector = np.zeros(layout.size)
        for frame, (log_size, pose) in enumerate(self.starts):
            at = layout.plane_at(frame)
            vector[at : at + 2] += log_size * layout.planes / len(self.starts)
            at = layout.pose_at(frame)
            vector[at : at + POSE] = pose
        return vector

    def _solved(
        self, layout: Layout, start: np.ndarray, used: list[np.ndarray], scale: float | None
    ) -> tuple[np.ndarray, np.ndarray]:
        """(vector, covariance); robust with residuals of `scale` px, plain without one."""
        weight = np.ones(2 * sum(int(u.sum()) for u in used))

        def miss(vector: np.ndarray) -> np.ndarray:
            found = self._residuals(layout, vector)
            return weight * np.concatenate([r[u].ravel() for r, u in zip(found, used, strict=True)])

        def slopes(vector: np.ndarray) -> np.ndarray:
            return weight[:, None] * self._slopes(layout, vector, used)

        vector = start
        for _ in range(_ROUNDS if scale else 1):
            if scale:  # residuals beyond the scale pull evenly, not ever harder
                weight = np.ones_like(weight)
                weight = (1.0 + (miss(vector) / scale) ** 2) ** -0.25
            # MINPACK's own: it does not wait for threads that a busy machine keeps from it.
            solved = least_squares(miss, vector, slopes, method="lm", xtol=1e-8, max_nfev=200)
            moved, vector = float(np.abs(solved.x - vector).max()), solved.x
            if moved < _STILL_PX:
                break
        freedom = max(len(solved.fun) - len(start), 1)
        variance = float((solved.fun**2).sum()) / freedom
        return vector, variance * np.linalg.pinv(solved.jac.T @ solved.jac, hermitian=True)

    def _residuals(self, layout: Layout, vector: np.ndarray) -> list[np.ndarray]:
        """Per frame N x 2 px as seen in the frame."""
        return [self._residual(layout, vector, frame) for frame in range(len(self.grids))]

    def _residual(self, layout: Layout, vector: np.ndarray, frame: int) -> np.ndarray:
        straight = layout.predicted(vector, frame, self.grids_mm[frame])
        return seen_residuals(layout.lens(vector, frame), self.places[frame], straight)

    def _slopes(self, layout: Layout, vector: np.ndarray, used: list[np.ndarray]) -> np.ndarray:
        """How the used residuals change with each number, by small steps.

        A frame's residuals hang on the lens, its own plane and its own pose only.
        """
        counts = [2 * int(u.sum()) for u in used]
        ends = np.cumsum(counts)
        slopes = np.zeros((int(ends[-1]), layout.size))
        for frame, (count, end, kept) in enumerate(zip(counts, ends, used, strict=True)):
            seen = SmallSteps.through(layout.lens(vector, frame), self.places[frame])
            here = self._straight_off(layout, vector, frame)
            for number in layout.numbers_of(frame):
                step = np.zeros(layout.size)
                step[number] = _STEP_PX
                moved = seen.steps(self._straight_off(layout, vector + step, frame) - here)
                slopes[end - count : end, number] = moved[kept].ravel() / _STEP_PX
        return slopes

    def _straight_off(self, layout: Layout, vector: np.ndarray, frame: int) -> np.ndarray:
        row, col = self.places[frame].T
        straight = np.stack(layout.lens(vector, frame).straight(row, col), axis=1)
        return straight - layout.predicted(vector, frame, self.grids_mm[frame])

    def _spread(self, layout: Layout, vector: np.ndarray) -> float:
        together = np.concatenate(self._residuals(layout, vector))
        return float(1.4826 * np.median(np.abs(together)))
