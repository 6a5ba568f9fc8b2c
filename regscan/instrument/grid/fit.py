"""Fit: one lens and plane to the grids of all frames, robustly, with the covariance of it all."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
from regscan.instrument.grid.middles import middle_shifts
from regscan.instrument.grid.model import POSE, Layout, Terms, facing_of
from regscan.instrument.grid.seen import SeenGrid

# From the plainest lens to one as bent as a wide angle; a step is taken where it pays.
LADDER = (Terms(1), Terms(2), Terms(2, tangential=True), Terms(3, tangential=True, centre=True))
_STRAYS = 5.0  # residuals beyond this many spreads are dust, not dots
_LEAST_SPREAD_PX = 1e-4
_ASKEW = 1.15  # a plane for each frame must lessen the residual by this factor to be believed
_ASKEW_PX = 0.02
_STEP_PX = 0.01
_ROUNDS = 8
_STILL_PX = 0.02
_FIRST_PX = 0.5  # residuals that a first guess may have before they lose weight


@dataclass(frozen=True)
class GridFit:
    """What was found.

    vector, covariance   as laid out.
    nodes       per frame N x 2, numbered from the frame's middle along the web's axes.
    residuals   per frame N x 2 (row, col) px: seen less predicted, in the frame.
    used        per frame N bool: False for strays.
    """

    layout: Layout
    vector: np.ndarray
    covariance: np.ndarray
    grids: tuple[SeenGrid, ...]
    nodes: tuple[np.ndarray, ...]
    residuals: tuple[np.ndarray, ...]
    used: tuple[np.ndarray, ...]

    @property
    def rms_px(self) -> float:
        """Root of the mean squared length of the used residuals, as OpenCV counts it."""
        return rms_length(self.residuals, self.used)

    def camera(self, like: Camera) -> Camera:
        """The camera found, its words and tone as in `like`."""
        return self.layout.camera(self.vector, like)


def rms_length(residuals: Sequence[np.ndarray], used: Sequence[np.ndarray]) -> float:
    """Root mean square of the lengths of N x 2 residuals."""
    kept = np.concatenate([r[u] for r, u in zip(residuals, used, strict=True)])
    return float(np.sqrt((kept**2).sum(axis=1).mean()))


def fit_grids(grids: Sequence[SeenGrid], pitch_mm: float, camera: Camera) -> GridFit:
    """The lens and plane that the grids show.

    grids    at least one, all of frames of one size; the first must lie in the web's plane.
    camera   for its web_travel and drive_side.
    """
    task = _Task(tuple(grids), pitch_mm, facing_of(camera))
    best = _plainest(task)
    last = best
    for terms in LADDER[1:]:
        layout = replace(best.layout, terms=terms)
        if task.count <= layout.size:
            break
        last = task.fit(layout, layout.carried(last.layout, last.vector))
        if _pays(best, last):
            best = last
    task.find_middles(best)
    return task.fit(best.layout, best.vector)


def _plainest(task: "_Task") -> GridFit:
    """The first rung; with a plane for each frame where they show the grid askew."""
    layout = Layout(task.lens, task.facing, LADDER[0], len(task.grids), one_plane=True)
    together = task.fit(layout)
    if len(task.grids) == 1:
        return together
    alone = task.fit(replace(layout, one_plane=False))
    askew = together.rms_px > _ASKEW * alone.rms_px + _ASKEW_PX
    return alone if askew else together


def _pays(plain: GridFit, bent: GridFit) -> bool:
    """Schwarz's criterion on robust spreads: more numbers must explain more than chance."""
    count = 2 * sum(len(r) for r in plain.residuals)
    costs = [_cost(fit) for fit in (plain, bent)]
    more = bent.layout.size - plain.layout.size
    return bool(count * np.log(costs[0] / costs[1]) > more * np.log(count))


def _cost(fit: GridFit) -> float:
    """Mean of squares, each bounded at the strays' limit."""
    squares = np.concatenate(fit.residuals).ravel() ** 2
    spread = 1.4826 * np.median(np.sqrt(squares))
    return float(np.minimum(squares, (_STRAYS * spread) ** 2).mean()) + _LEAST_SPREAD_PX**2


class _Task:
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
        limit = _STRAYS * max(self._spread(layout, vector), _LEAST_SPREAD_PX)
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
            here = self._residual(layout, vector, frame)[kept]
            for number in layout.numbers_of(frame):
                step = np.zeros(layout.size)
                step[number] = _STEP_PX
                moved = self._residual(layout, vector + step, frame)[kept]
                slopes[end - count : end, number] = (moved - here).ravel() / _STEP_PX
        return slopes

    def _spread(self, layout: Layout, vector: np.ndarray) -> float:
        together = np.concatenate(self._residuals(layout, vector))
        return float(1.4826 * np.median(np.abs(together)))


def seen_residuals(lens: Lens, places: np.ndarray, straight: np.ndarray) -> np.ndarray:
    """N x 2 px: how far places lie in the frame from where straight places would be seen."""
    row, col = places.T
    at = np.stack(lens.straight(row, col), axis=1)
    down = np.stack(lens.straight(row + 1.0, col), axis=1) - at
    right = np.stack(lens.straight(row, col + 1.0), axis=1) - at
    off = at - straight
    area = down[:, 0] * right[:, 1] - down[:, 1] * right[:, 0]
    rows = (off[:, 0] * right[:, 1] - off[:, 1] * right[:, 0]) / area
    cols = (down[:, 0] * off[:, 1] - down[:, 1] * off[:, 0]) / area
    return np.stack([rows, cols], axis=1)


def oriented(
    grid: SeenGrid, facing: np.ndarray, pitch_mm: float, radius_px: float
) -> tuple[np.ndarray, tuple[float, np.ndarray]]:
    """Nodes numbered along the web's axes from their middle, with a guess (log size, pose).

    A square grid looks alike in eight ways; the one nearest to the web's axes is taken.
    """
    nodes = (grid.nodes - np.rint(np.median(grid.nodes, axis=0))).astype(float)
    design = np.column_stack([np.ones(len(nodes)), nodes])
    found = np.linalg.lstsq(design, grid.places, rcond=None)[0]
    steps = found[1:]
    ways = [
        np.diag(signs)[list(order)]
        for order in itertools.permutations(range(2))
        for signs in itertools.product((1.0, -1.0), repeat=2)
    ]
    way = max(ways, key=lambda q: float(np.trace((q @ facing).T @ steps)))
    nodes = nodes @ way
    turn = facing.T @ (way.T @ steps)
    angle = np.arctan2(turn[1, 0] - turn[0, 1], turn[0, 0] + turn[1, 1])
    size = np.sqrt(abs(np.linalg.det(steps))) / pitch_mm
    pose = np.array([angle * radius_px, *found[0]])
    return nodes, (-radius_px * float(np.log(size)), pose)
