"""Joint fit: all marks of a scene together, with the colours of their overprints.

Unknown are every mark's place and growth, the optics' softness, and the colour
of every ink set that occurs. Colours start from the palette and are held near
it by as much as print is known to vary; they enter linearly and are solved for
exactly in every round. Places follow by Gauss-Newton on what is left.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.marks.doubt import LeaveOut, Sums, felt_ratio
from regscan.marks.inks import Palette
from regscan.marks.scene import Placed, Scene, Window
from regscan.marks.stencil import SAMPLES, Stencil

_ROUNDS = 8
_NEAR_ROUNDS = 5
_SETTLED_PX = 0.16  # a step within the quarter pixel that the marks were laid at
_SOLID_SPREAD = 0.06  # how far a solid ink's light may lie from the palette's (one sigma)
_OVERPRINT_SPREAD = 0.12  # and an overprint's from its prediction
_PLACE_SPREAD_PX = 50.0  # a mark that the picture says nothing about stays where it is
_GROWTH_SPREAD_PX = 0.7
_SOFTNESS_SPREAD = 0.5  # px^2
_REJECT = 4.5
_UNFELT = 2.2  # see doubt: marks on each other also share rough edges and mixed colours
_BLOCK_PX = 7


@dataclass(frozen=True, slots=True)
class Guess:
    """One mark to be fitted: its ink's bit, its stencil and where it seems to be (px)."""

    bit: int
    stencil: Stencil
    row_px: float
    col_px: float


@dataclass(frozen=True, slots=True)
class Picture:
    """What a joint fit reads: light as a share of perfect white, evenly lit.

    light    rows x cols x C.   weight   rows x cols x C, inverse variance, 0 unusable.
    """

    window: Window
    light: np.ndarray
    weight: np.ndarray


@dataclass(frozen=True, slots=True)
class JointMark:
    """One mark of a joint fit; lengths px.

    presence   the ink's step in colour at its outline over the step expected: 1 for a
               solid print, near 0 where no such ink is printed.
    misfit     rms residual along its outline over its step in colour.
    """

    row_px: float
    col_px: float
    covariance: np.ndarray
    growth_px: float
    presence: float
    misfit: float
    contrast: float


@dataclass(frozen=True, slots=True)
class Joint:
    """The result, marks in the order of the guesses."""

    marks: tuple[JointMark, ...]
    softness_px: tuple[float, float]
    colours: dict[int, np.ndarray]
    settled: bool


def draw_near(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    softness_px: tuple[float, float],
) -> np.ndarray:
    """Places (M x 2, row and col px) nearer the truth than the guesses: for coarse pictures."""
    places = _places(guesses)
    for _ in range(_NEAR_ROUNDS):
        _, _, steps, places = _round(picture, guesses, palette, places, softness_px)
        if float(np.abs(steps).max()) < _SETTLED_PX:
            break
    return places


def fit_together(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    softness_px: tuple[float, float],
) -> Joint:
    """Fit all marks of a scene. Guesses within an edge width or two of the truth are near
    enough; nothing is raised for marks that are not there (see JointMark.presence)."""
    places = _places(guesses)
    trust, judged, settled = np.ones(picture.weight.shape[:2]), False, False
    for turn in range(_ROUNDS):
        scene, solution, steps, places = _round(
            picture, guesses, palette, places, softness_px, trust
        )
        softer = _softer(softness_px, solution.steps[3 * len(guesses) :])
        settled = float(np.abs(steps).max()) < _SETTLED_PX and _alike(softer, softness_px)
        if settled and judged:
            break
        if settled or turn >= _ROUNDS // 2:
            trust, judged = _trust(solution), True
            if settled and (trust == 1.0).all():
                break
        softness_px = softer
    return _result(solution, scene, places, softness_px, settled)


def _places(guesses: Sequence[Guess]) -> np.ndarray:
    return np.array([(g.row_px, g.col_px) for g in guesses])


def _round(
    picture: Picture,
    guesses: Sequence[Guess],
    palette: Palette,
    places: np.ndarray,
    softness_px: tuple[float, float],
    trust: np.ndarray | None = None,
) -> tuple[Scene, "_Solution", np.ndarray, np.ndarray]:
    """One Gauss-Newton round: the scene laid, its solution, the steps taken, the new places."""
    placed = [
        Placed.at(g.bit, g.stencil, (p[0], p[1]), picture.window)
        for g, p in zip(guesses, places, strict=True)
    ]
    scene = Scene(placed, picture.window, softness_px)
    solution = _solve(picture, scene, palette, trust)
    steps = np.clip(solution.steps[: 2 * len(guesses)].reshape(-1, 2), -1.5, 1.5)
    moved = np.array([p.place(picture.window) for p in placed]) + steps
    # Further from its guess than its own size, a mark has lost what it was to be fitted to.
    start = _places(guesses)
    reach = np.array([g.stencil.middle for g in guesses]) / SAMPLES
    return scene, solution, steps, np.clip(moved, start - reach, start + reach)


def _softer(softness_px: tuple[float, float], extra: np.ndarray) -> tuple[float, float]:
    """The widths with the variances a solution found on top, px."""
    row, col = (
        math.sqrt(max(s**2 + float(np.clip(e, -0.5 * s**2, 2.0 * s**2)), 0.16))
        for s, e in zip(softness_px, extra, strict=True)
    )
    return row, col


def _alike(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return all(abs(a / b - 1.0) < 0.06 for a, b in zip(one, other, strict=True))


@dataclass(frozen=True)
class _Read:
    """The pixels a solution reads: N of them, `pixels` their places in the window.

    shares  N x S.   rates  P x N x C.   light, weight  N x C.   felt  N bool, near an outline.
    """

    shares: np.ndarray
    rates: np.ndarray
    light: np.ndarray
    weight: np.ndarray
    pixels: np.ndarray
    felt: np.ndarray


@dataclass(frozen=True)
class _Solution:
    """steps: row, col of every mark, then growths, then two softness variances."""

    picture: Picture
    palette: Palette
    read: _Read
    steps: np.ndarray
    hessian: np.ndarray
    colours: np.ndarray
    residual: np.ndarray
    noise: float


def _solve(picture: Picture, scene: Scene, palette: Palette, trust: np.ndarray | None) -> _Solution:
    shares = np.stack([share.ravel() for share in scene.shares], axis=1)
    light = picture.light.reshape(len(shares), -1)
    weight = picture.weight if trust is None else picture.weight * trust[:, :, None]
    weight = weight.reshape(len(shares), -1)
    prior = np.array([palette.mix(bits) for bits in scene.sets])
    hold = 1.0 / np.array([_spread(bits) for bits in scene.sets]) ** 2
    flats = _every_third(picture.window)
    start = _colours_alone(shares[flats], light[flats], weight[flats], prior, hold)
    rates = _rates(scene, start)
    # Places are read where the picture changes; a sparse grid is enough to know colours by.
    felt = scene.felt().ravel()
    pixels = np.flatnonzero(felt | flats)
    read = _Read(
        shares[pixels], rates[:, pixels], light[pixels], weight[pixels], pixels, felt[pixels]
    )
    hessian, gradient, back = _eliminate(read, prior, hold)
    marks = scene.count
    ridge = np.full(len(rates), _PLACE_SPREAD_PX**-2)
    ridge[2 * marks : 3 * marks] = _GROWTH_SPREAD_PX**-2
    ridge[3 * marks :] = _SOFTNESS_SPREAD**-2
    hessian[np.diag_indices_from(hessian)] += ridge + 1e-9 * hessian.diagonal().max()
    steps = np.linalg.solve(hessian, gradient)
    colours = np.stack([alone - moved @ steps for alone, moved in back], axis=1)
    residual = read.light - read.shares @ colours - np.tensordot(steps, read.rates, axes=1)
    freedom = max(int((read.weight > 0.0).sum()) - len(steps) - colours.size, 1)
    noise = math.sqrt(float((read.weight * residual**2).sum()) / freedom)
    return _Solution(picture, palette, read, steps, hessian, colours, residual, noise)


def _every_third(window: Window) -> np.ndarray:
    grid = np.zeros((window.rows, window.cols), bool)
    grid[1::3, 1::3] = True
    return grid.ravel()


def _spread(bits: int) -> float:
    return _SOLID_SPREAD if bits.bit_count() < 2 else _OVERPRINT_SPREAD


def _colours_alone(
    shares: np.ndarray, light: np.ndarray, weight: np.ndarray, prior: np.ndarray, hold: np.ndarray
) -> np.ndarray:
    """Colours S x C that fit best with the marks where they are, held near the palette's."""
    columns = []
    for c in range(light.shape[1]):
        weighted = shares * weight[:, c, None]
        normal = weighted.T @ shares + np.diag(hold)
        columns.append(np.linalg.solve(normal, weighted.T @ light[:, c] + hold * prior[:, c]))
    return np.stack(columns, axis=1)


def _rates(scene: Scene, colours: np.ndarray) -> np.ndarray:
    """P x N x C: change of the picture per unit of every step."""
    changes = np.stack([scene.changes(k, colours) for k in range(scene.count)])
    moves = changes[:, :2].reshape(-1, *changes.shape[2:])
    picture = scene.picture(colours)
    padded = np.pad(picture, ((1, 1), (1, 1), (0, 0)), mode="edge")
    bends = [np.diff(padded[:, 1:-1], 2, axis=0) / 2.0, np.diff(padded[1:-1], 2, axis=1) / 2.0]
    rates = np.concatenate([moves, changes[:, 2], np.stack(bends)])
    return rates.reshape(len(rates), -1, picture.shape[2])


def _eliminate(
    read: _Read, prior: np.ndarray, hold: np.ndarray
) -> tuple[np.ndarray, np.ndarray, list[tuple[np.ndarray, np.ndarray]]]:
    """Normal equations of the steps with the colours solved out, and the way back to colours."""
    count = len(read.rates)
    hessian, gradient = np.zeros((count, count)), np.zeros(count)
    back = []
    for c in range(read.light.shape[1]):
        weight, light = read.weight[:, c], read.light[:, c]
        weighted = read.shares * weight[:, None]
        normal = weighted.T @ read.shares + np.diag(hold)
        moment = weighted.T @ light + hold * prior[:, c]
        rate = np.ascontiguousarray(read.rates[:, :, c])
        cross = rate @ weighted
        alone = np.linalg.solve(normal, moment)
        moved = np.linalg.solve(normal, cross.T)
        rated = rate * weight
        hessian += rated @ rate.T - cross @ moved
        gradient += rated @ light - cross @ alone
        back.append((alone, moved))
    return hessian, gradient, back


def _trust(solution: _Solution) -> np.ndarray:
    """Weight per pixel: 1 where the scene explains it, 0 where something else is printed."""
    read = solution.read
    size = np.sqrt((read.weight * solution.residual**2).mean(axis=1))
    edge = read.felt
    trust = np.ones_like(size)
    for group in (edge, ~edge):
        used = size[group & (read.weight.max(axis=1) > 0.0)]
        if used.size:
            upper = int(0.9 * (used.size - 1))
            spread = float(np.partition(used, upper)[upper]) / 1.645 + 1e-12
            trust[group] = np.clip(2.0 - size[group] / (_REJECT * spread), 0.0, 1.0)
    whole = np.ones(solution.picture.weight.shape[0] * solution.picture.weight.shape[1])
    whole[read.pixels] = trust
    return whole.reshape(solution.picture.weight.shape[:2])


def _result(
    solution: _Solution,
    scene: Scene,
    places: np.ndarray,
    softness_px: tuple[float, float],
    settled: bool,
) -> Joint:
    covariance = np.linalg.inv(solution.hessian) * solution.noise**2
    ratios = _ratios(solution, scene)
    count = scene.count
    colours = dict(zip(scene.sets, solution.colours, strict=True))
    marks = []
    for k in range(count):
        presence, contrast = _presence(scene, k, solution)
        own = covariance[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] * ratios[k]
        growth = float(solution.steps[2 * count + k])
        misfit = _misfit(solution, k, contrast)
        row, col = float(places[k, 0]), float(places[k, 1])
        marks.append(JointMark(row, col, own, growth, presence, misfit, contrast))
    return Joint(tuple(marks), softness_px, colours, settled)


def _presence(scene: Scene, number: int, solution: _Solution) -> tuple[float, float]:
    """(step in colour at the outline over the expected one, its size in light)."""
    lookup = dict(zip(scene.sets, solution.colours, strict=True))
    seen, wanted, size, total = 0.0, 0.0, 0.0, 0
    for without, with_ink, samples in scene.sides(number):
        expected = solution.palette.mix(with_ink) - solution.palette.mix(without)
        step = lookup[with_ink] - lookup[without]
        seen += samples * float(step @ expected)
        wanted += samples * float(expected @ expected)
        size += samples * float(np.linalg.norm(step))
        total += samples
    return (seen / wanted if wanted > 0.0 else 0.0), size / max(total, 1)


def _misfit(solution: _Solution, number: int, contrast: float) -> float:
    moves = np.abs(solution.read.rates[2 * number : 2 * number + 2]).sum(axis=(0, 2))
    edge = moves > 0.15 * moves.max()
    if not edge.any():
        return math.inf
    rms = math.sqrt(float((solution.residual[edge] ** 2).sum(axis=1).mean()))
    return rms / max(contrast, 1e-6)


def _ratios(solution: _Solution, scene: Scene) -> list[float]:
    """Per mark: variance of its centre over what white noise would give (see doubt)."""
    read = solution.read
    rows, cols, channels = solution.picture.weight.shape
    block = (np.arange(rows) // _BLOCK_PX)[:, None] * cols + np.arange(cols) // _BLOCK_PX
    felt = np.flatnonzero(read.felt)
    if felt.size == 0:
        return [1.0] * scene.count
    places = block.ravel()[read.pixels[felt]]
    order = felt[np.argsort(places, kind="stable")]
    starts = np.flatnonzero(np.diff(np.sort(places), prepend=-1)) * channels
    ends = [*starts[1:], len(order) * channels]
    sectors = [slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]
    design = read.rates[:, order].reshape(len(read.rates), -1).T.astype(np.float64)
    sums = Sums.of(design, read.weight[order].ravel(), solution.residual[order].ravel(), sectors)
    # The residuals are those at the solution: what is left to be found there is nothing.
    leave = LeaveOut.of(sums, np.zeros(design.shape[1]), solution.hessian)
    return [
        felt_ratio(leave.spread_ratio(solution.noise, (2 * k, 2 * k + 1)), _UNFELT)
        for k in range(scene.count)
    ]
