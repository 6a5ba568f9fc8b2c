"""The fit: marks' centres from their pixels, with covariances that are true.

Light in the patch is modelled as

    plane + ink * contrast + what shift, blur and growth change + a slope of the ink

which is linear once the template's phase (its quarter pixel) is chosen. A few
rounds move the phase to the nearest one; then the answer is the phase's centre
plus the small shift that the last solution found. All marks of a frame are fitted
side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from regscan.marks.doubt import Wander
from regscan.marks.fitting.reading import Laid, Patch, Reading, gathered, read
from regscan.marks.fitting.solve import (
    Solution,
    covariances_of,
    rough_of,
    shift_of,
    trusting,
    wanders_of,
)
from regscan.marks.shape.template import PARTS, Template

_MAX_ROUNDS = 8
_NEAR_PHASE = 0.25  # from here on all places are read, at a centre exactly there
_HALF_PHASE = 0.14  # a little over an eighth of a pixel, so that rounds cannot swing


@dataclass(frozen=True, slots=True)
class Inked:
    """What the pixels of one fitted mark show: N places about its centre. Of M marks side by
    side every array has M as its first axis, and a mark with fewer places ends in empty ones.
    Single precision, but for pixel: it is for print quality and damage, not for places.

    place      2 x N, rows and columns from the centre, px.
    pixel      2 x N, the pixels of the frame that they are.
    area       pixels that a place stands for; 0 where something else is printed.
    cover      ink seen: 0 the paper as lit there, 1 the mark's solid.
    model      ink of the fitted picture.
    left       what the fit leaves of it, ink.
    """

    place: np.ndarray
    pixel: np.ndarray
    area: np.ndarray
    cover: np.ndarray
    model: np.ndarray
    left: np.ndarray

    @staticmethod
    def together(marks: "Sequence[Inked]") -> "Inked":
        """Marks side by side."""
        most = max(mark.area.size for mark in marks)
        found = []
        for one in fields(Inked):
            own = [getattr(mark, one.name) for mark in marks]
            both = np.zeros((len(own), *own[0].shape[:-1], most), own[0].dtype)
            for row, values in zip(both, own, strict=True):
                row[..., : values.shape[-1]] = values
            found.append(both)
        return Inked(*found)


@dataclass(frozen=True, slots=True)
class Fit:
    """What the fit found. Lengths px; contrast in units of light (negative: darker).

    row_var, col_var, row_col_covar are those of white noise; wander says by how much
    the mark's edge makes them larger; read is what its last round read.
    """

    row_px: float
    col_px: float
    row_var: float
    col_var: float
    row_col_covar: float
    contrast: float
    paper: float
    blur_row_var: float
    blur_col_var: float
    growth_px: float
    misfit: float
    noise: float
    used_share: float
    converged: bool
    wander: Wander
    read: Reading
    inked: Inked


@dataclass(frozen=True, slots=True)
class Start:
    """Where the fit of one mark begins.

    near   True where that is good to a fraction of a pixel: all places are read at once.
           Else within about two edge widths of the truth is near enough.
    known  True where the mark is as soft as the template and has grown as it has: of half an
           outline, growth and a shift look alike, and softness hides what is no edge.
    """

    patch: Patch
    template: Template
    at: tuple[float, float]
    near: bool = False
    known: bool = False


def fit_mark(
    patch: Patch,
    template: Template,
    row_px: float,
    col_px: float,
    *,
    near: bool = False,
    known: bool = False,
) -> Fit | None:
    """Fit one mark near (row_px, col_px); None when nothing like it is there."""
    return fit_marks([Start(patch, template, (row_px, col_px), near, known)])[0]


def fit_marks(starts: Sequence[Start]) -> list[Fit | None]:
    """Fit marks, each by itself; None where nothing like it is there."""
    marks = [_Going(start, start.at, start.near) for start in starts]
    for rounds_left in reversed(range(_MAX_ROUNDS)):
        going = [mark for mark in marks if mark.goes_on]
        for mark in going:
            if not mark.near:
                mark.draw_near()
        last = not rounds_left
        _fit_at([mark for mark in going if not mark.lost and (mark.near or last)], last=last)
    return [None if mark.lost else mark.fit for mark in marks]


@dataclass(slots=True)
class _Going:
    """A mark on its way: where it seems to be by now, and the fit once it has come to rest.

    lost   True where nothing like it is to be found, or only far from the start.
    """

    start: Start
    at: tuple[float, float]
    near: bool
    fit: Fit | None = None
    lost: bool = False

    @property
    def goes_on(self) -> bool:
        return not (self.lost or self.fit)

    def move(self, row_px: float, col_px: float) -> None:
        template, (row, col) = self.start.template, self.start.at
        reach = max(template.reach_rows, template.reach_cols)
        self.lost = max(abs(row_px - row), abs(col_px - col)) > reach
        self.at = row_px, col_px

    def draw_near(self) -> None:
        """Go to the centre that the thinned places ask for at the nearest phase."""
        template = self.start.template
        thin = template.thin
        phase, row, col = template.phase_of(*self.at)
        light, weight = gathered(self.start.patch, template, (row, col), thin)
        if _too_little(weight, template.inside[thin]):
            self.lost = True
            return
        theta = rough_of(template.design(phase, thin), light, weight)
        shift, centre = shift_of(theta, template.softening), template.centre_of(phase, row, col)
        self.near = max(abs(shift[0]), abs(shift[1])) <= _NEAR_PHASE
        self.move(centre[0] + shift[0], centre[1] + shift[1])


def _fit_at(marks: Sequence[_Going], *, last: bool) -> None:
    """Solve for centres exactly where marks seem to be, and go where that leads; those that it
    leaves there have their fit.

    last   True for the last round: all have it then.
    """
    if not marks:
        return
    seen = read([Laid(mark.start.patch, mark.start.template, mark.at) for mark in marks])
    solution = trusting(seen, [mark.start.known for mark in marks])
    settled = []
    for k, (mark, shift) in enumerate(zip(marks, _shifts(solution, seen), strict=True)):
        template = mark.start.template
        thin = template.thin
        if _too_little(seen.usable[k, : template.tile.size][thin], template.inside[thin]):
            mark.lost = True
        else:
            mark.move(mark.at[0] + shift[0], mark.at[1] + shift[1])
        if not mark.lost and (last or _still(shift)):
            settled.append(k)
    if settled:
        all_of_them = len(settled) == len(marks)
        some = (solution, seen) if all_of_them else (solution.some(settled), seen.some(settled))
        for k, fit in zip(settled, fits_of(*some), strict=True):
            marks[k].fit = fit


def _shifts(solution: Solution, seen: Reading) -> list[tuple[float, float]]:
    return [
        shift_of(theta, one.template.softening)
        for theta, one in zip(solution.theta, seen.laid, strict=True)
    ]


def _still(shift: tuple[float, float]) -> bool:
    return max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE


def _too_little(weight: np.ndarray, inside: np.ndarray) -> bool:
    """Whether there are too few usable places for a fit, or none on the ink."""
    return bool(np.count_nonzero(weight) < 4 * PARTS or not weight[inside].any())


def fits_of(solution: Solution, seen: Reading) -> list[Fit]:
    """The fits that a solution at the centres that were read for amounts to."""
    theta, contrast = solution.theta, solution.contrast
    covariance = covariances_of(solution)
    edge = seen.edge & (solution.weight > 0.0)
    squares = np.where(edge, solution.residual, 0.0) ** 2
    with np.errstate(invalid="ignore", divide="ignore"):
        edge_rms = np.sqrt(squares.sum(axis=1) / np.count_nonzero(edge, axis=1))
    places = [laid.template.tile.size for laid in seen.laid]
    values = {
        "row_var": covariance[:, 0, 0],
        "col_var": covariance[:, 1, 1],
        "row_col_covar": covariance[:, 0, 1],
        "contrast": theta[:, 3],
        "paper": theta[:, 0],
        "blur_row_var": theta[:, 6] / contrast,
        "blur_col_var": theta[:, 7] / contrast,
        "growth_px": theta[:, 8] / contrast,
        "misfit": edge_rms / np.abs(contrast),
        "noise": solution.noise,
        "used_share": np.count_nonzero(solution.weight, axis=1) / np.array(places),
    }
    known = [
        dict(zip(values, row, strict=True)) for row in np.stack(list(values.values())).T.tolist()
    ]
    shifts = _shifts(solution, seen)
    centres = np.array([one.at for one in seen.laid]) + shifts
    wanders = wanders_of(solution, seen)
    return [
        Fit(
            row_px=row,
            col_px=col,
            converged=_still(shifts[k]),
            wander=wanders[k],
            read=seen.one(k),
            inked=inked,
            **known[k],
        )
        for k, ((row, col), inked) in enumerate(
            zip(centres.tolist(), _inked(solution, seen, centres), strict=True)
        )
    ]


def _inked(solution: Solution, seen: Reading, centres: np.ndarray) -> list[Inked]:
    contrast = solution.contrast[:, None]
    paper = (solution.theta[:, None, :3] @ seen.parts[:, :3])[:, 0]
    cover = ((seen.light - paper) / contrast).astype(np.float32)
    left = (solution.residual / contrast).astype(np.float32)
    model, usable = seen.parts[:, 3].astype(np.float32), seen.usable > 0.0
    # From the middle pixel, so that single precision is enough.
    off = (seen.middle - centres).astype(np.float32)[:, :, None]
    found = []
    for k, laid in enumerate(seen.laid):
        template = laid.template
        own = slice(template.tile.size)
        pixel = template.places + seen.middle[k][:, None]
        place = template.places_px + off[k]
        area = template.areas_px * usable[k, own]
        found.append(Inked(place, pixel, area, cover[k, own], model[k, own], left[k, own]))
    return found
