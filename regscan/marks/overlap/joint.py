"""Joint fit: all marks of a scene together, with the colours of their overprints.

Unknown are every mark's place and growth, the optics' softness, and the colour
of every ink set that occurs. Places follow by Gauss-Newton: the scene is laid
where the marks seem to be, solved (see mixture), and laid anew where that moved
anything further than the solution is good for.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regscan.marks.doubt import felt_ratio, upper_spread
from regscan.marks.limits import LIMITS
from regscan.marks.median import median
from regscan.marks.overlap.mixture import Coloured, Mixture, Picture, Solution
from regscan.marks.overlap.patchwork import spread_ratios
from regscan.marks.overlap.scene import Placed, Scene
from regscan.marks.seeing.inks import Palette
from regscan.marks.shape.stencil import SAMPLES, Stencil

_NEAR_ROUNDS = 5
# Of a coarse picture: the step is made, and what it leaves is nearer than a fit needs to begin.
_NEAR_PX = 0.3
_SETTLED_PX = 0.25  # a step as long as the quarter pixel that the marks were laid at
_SETTLED_SD = 0.5  # or a step of this share of the sd
# Times the noise assumed of a camera: marks alone leave 1 to 3, and up to 8 in a first round that
# lays them beside their places; artwork among them 16 to 30, and more rounds would not help.
_MARKS_ALONE, _NOT_MARKS, _NOT_MARKS_AT_FIRST = 2.0, 10.0, 15.0
_SAME_SOFTNESS = 0.15  # the mixture tells what little there is between
_SOFTEST_PX = 6.0  # softer edges are doubted anyway, see limits
_LONGEST_STEP_PX = 1.5
_REJECT = 4.5
_UNFELT = 2.2  # see doubt: marks on each other also share rough edges and mixed colours


@dataclass(frozen=True, slots=True)
class Guess:
    """One mark to be fitted: its ink's bit, its stencil and where it seems to be (px).

    known   True where that is surer than a coarse picture tells."""

    bit: int
    stencil: Stencil
    row_px: float
    col_px: float
    known: bool = False


@dataclass(frozen=True, slots=True)
class JointMark:
    """One mark of a joint fit; lengths px.

    presence   the ink's step in colour at its outline over the step expected: 1 for a
               solid print, near 0 where no such ink is printed.
    misfit     rms residual along its outline over its step in colour.
    settled    False where the last round still moved it further than it is known.
    """

    row_px: float
    col_px: float
    covariance: np.ndarray
    growth_px: float
    presence: float
    misfit: float
    contrast: float
    settled: bool


@dataclass(frozen=True, slots=True)
class Joint:
    """The result, marks in the order of the guesses.

    explained   False where much else than marks is printed among them.
    """

    marks: tuple[JointMark, ...]
    softness_px: tuple[float, float]
    explained: bool


@dataclass(frozen=True, slots=True)
class InPrint:
    """Marks among which so much else is printed that no scene of marks tells where they lie.

    presence   as in JointMark, of each.
    """

    presence: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Near:
    """Where a coarse picture puts M marks.

    places        M x 2 (row, col) px.
    growth_px     how far they have grown beyond their stencils.
    softness_px   (row, col) width of edges, one sigma.
    lost          M bool, marks of which a finer picture would show no more.
    """

    places: np.ndarray
    growth_px: float
    softness_px: tuple[float, float]
    lost: np.ndarray


def draw_near(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    softness_px: tuple[float, float],
) -> Near:
    """Places nearer the truth than the guesses: for coarse pictures."""
    places, known = _places(guesses), np.array([g.known for g in guesses])
    for _ in range(_NEAR_ROUNDS):
        laid = _laid(picture, guesses, palette, places, softness_px)
        solution = laid.mixture.solved()
        places = np.where(known[:, None], places, laid.moved(solution))
        lost = _lost(solution, picture.pitch_px)
        if (known | lost | _still(solution, _NEAR_PX)).all():
            break
    growth = median(solution.growths.tolist())
    return Near(places, growth, _softer(softness_px, solution.softer), lost)


def fit_together(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    softness_px: tuple[float, float],
    rounds: int,
    *,
    shown: bool,
) -> Joint | InPrint:
    """Fit all marks of a scene in so many rounds at most. Guesses within an edge width or two
    of the truth are near enough; nothing is raised for marks that are not there (see
    JointMark.presence).

    shown   True where any outline tells of them. Where none does, a scene is all there is, even
            one that explains little."""
    places, known = _places(guesses), all(g.known for g in guesses)
    for turn in range(rounds):
        laid = _laid(picture, guesses, palette, places, softness_px)
        limit = _NOT_MARKS if known or turn else _NOT_MARKS_AT_FIRST
        coloured = laid.coloured
        if shown and coloured.noise > limit:
            return InPrint(tuple(_presence(coloured, coloured.start)[0].tolist()))
        solution = laid.mixture.solved()
        in_print = (shown or turn > 0) and solution.noise > limit
        settled = _settled(solution, softness_px)
        if settled or turn >= rounds // 2:
            # The scene need not be laid again to be solved with what does not belong left out.
            solution = laid.mixture.solved(_trust(solution))
            settled = _settled(solution, softness_px)
        places = laid.moved(solution)
        softness_px = _softer(softness_px, solution.softer)
        if settled or in_print:
            break
    return _result(solution, places, softness_px)


def _places(guesses: Sequence[Guess]) -> np.ndarray:
    return np.array([(g.row_px, g.col_px) for g in guesses])


@dataclass(frozen=True)
class _Laid:
    """A scene laid at the quarter pixels nearest to some places."""

    coloured: Coloured
    at: np.ndarray
    guesses: Sequence[Guess]

    @cached_property
    def mixture(self) -> Mixture:
        return Mixture.of(self.coloured)

    def moved(self, solution: Solution) -> np.ndarray:
        """M x 2, the places a solution asks for. Further from its guess than its own size, a
        mark has lost what it was to be fitted to."""
        start = _places(self.guesses)
        reach = np.array([g.stencil.middle for g in self.guesses]) / SAMPLES
        steps = np.clip(solution.moves, -_LONGEST_STEP_PX, _LONGEST_STEP_PX)
        return np.clip(self.at + steps, start - reach, start + reach)


def _laid(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    places: np.ndarray,
    softness_px: tuple[float, float],
) -> _Laid:
    window = picture.window
    placed = [
        Placed.at(g.bit, g.stencil, (p[0], p[1]), window)
        for g, p in zip(guesses, places, strict=True)
    ]
    scene = Scene(placed, window, softness_px)
    at = np.array([mark.place(window) for mark in placed])
    return _Laid(Coloured.of(picture, scene, palette), at, guesses)


def _still(solution: Solution, settled_px: float = _SETTLED_PX) -> np.ndarray:
    """M bool, marks that a solution moves no further than it is good for, or by a part of how
    well they are known: a mark that hardly shows need not stand still."""
    allowed = np.maximum(settled_px, _SETTLED_SD * solution.noise * _white_px(solution))
    return np.asarray((np.abs(solution.moves) < allowed).all(axis=1))


def _lost(solution: Solution, pitch_px: float = 1.0) -> np.ndarray:
    """M bool, marks not worth waiting for: none of them shows, or too little to call them ok."""
    presence, _ = _presence(solution.coloured, solution.colours)
    sd_px = min(solution.noise, _MARKS_ALONE) * _white_px(solution).max(axis=1) * pitch_px
    return np.asarray((presence < LIMITS.presence_least) | (sd_px > LIMITS.centre_sd_px))


def _white_px(solution: Solution) -> np.ndarray:
    """M x 2, sd of the places that the noise assumed of a camera makes."""
    variances = np.diag(solution.inverse)[: solution.moves.size]
    return np.sqrt(variances).reshape(-1, 2)


def _settled(solution: Solution, softness_px: tuple[float, float]) -> bool:
    """Whether every mark has its place, and edges are as soft as they were laid."""
    softer = _softer(softness_px, solution.softer)
    alike = all(abs(a / b - 1.0) < _SAME_SOFTNESS for a, b in zip(softer, softness_px, strict=True))
    return alike and bool((_still(solution) | _lost(solution)).all())


def _softer(softness_px: tuple[float, float], extra: np.ndarray) -> tuple[float, float]:
    """The widths with the variances a solution found on top, px."""
    row, col = (
        math.sqrt(min(max(s**2 + float(np.clip(e, -0.5 * s**2, 2.0 * s**2)), 0.16), _SOFTEST_PX**2))
        for s, e in zip(softness_px, extra, strict=True)
    )
    return row, col


def _trust(solution: Solution) -> np.ndarray:
    """N, 1 for pixels that the scene explains, 0 where something else is printed."""
    coloured = solution.coloured
    size = np.sqrt((solution.left**2).mean(axis=0))
    trust = np.ones_like(size)
    known = coloured.root.max(axis=0) > 0.0
    for group in (coloured.felt, ~coloured.felt):
        used = size[group & known]
        if used.size:
            spread = upper_spread(used) + 1e-12
            trust[group] = np.clip(2.0 - size[group] / (_REJECT * spread), 0.0, 1.0)
    return trust


def _result(
    solution: Solution,
    places: np.ndarray,
    softness_px: tuple[float, float],
) -> Joint:
    scene = solution.coloured.scene
    covariance = solution.inverse * solution.noise**2
    ratios, placed = spread_ratios(solution), _still(solution) | _lost(solution)
    presences, contrasts = _presence(solution.coloured, solution.colours)
    marks = []
    unweighted = 1.0 / np.maximum(solution.coloured.root, 1e-6)
    left = np.square(solution.left * unweighted).sum(axis=0)
    for k in range(scene.count):
        presence, contrast = float(presences[k]), float(contrasts[k])
        own = covariance[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] * felt_ratio(ratios[k], _UNFELT)
        growth = float(solution.growths[k])
        moves = solution.mixture.parts[:, 2 * k : 2 * k + 2] * unweighted[:, None]
        misfit = _misfit(np.abs(moves).sum(axis=(0, 1)), left, contrast)
        row, col = float(places[k, 0]), float(places[k, 1])
        settled = bool(placed[k])
        marks.append(JointMark(row, col, own, growth, presence, misfit, contrast, settled))
    explained = solution.noise <= _NOT_MARKS
    return Joint(tuple(marks), softness_px, explained)


def _presence(coloured: Coloured, colours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(M steps in colour at the marks' outlines over the expected ones, M sizes of them in light)
    for colours like `coloured.start`."""
    sides, count = coloured.scene.sides, coloured.scene.count
    before, after = coloured.which[sides.without], coloured.which[sides.with_ink]
    step, due = (light[after] - light[before] for light in (colours, coloured.prior))
    told = np.stack(
        [(step * due).sum(axis=1), (due * due).sum(axis=1), np.linalg.norm(step, axis=1)]
    )
    told *= sides.samples
    seen, wanted, size = (np.bincount(sides.marks, one, count) for one in told)
    samples = np.bincount(sides.marks, sides.samples, count)
    presence = np.divide(seen, wanted, out=np.zeros(count), where=wanted > 0.0)
    return presence, size / np.maximum(samples, 1)


def _misfit(moves: np.ndarray, left: np.ndarray, contrast: float) -> float:
    """JointMark.misfit, from what moves of the mark change and the squares of what is left, N."""
    edge = moves > 0.15 * moves.max()
    if not edge.any():
        return math.inf
    return math.sqrt(float(left[edge].mean())) / max(contrast, 1e-6)
