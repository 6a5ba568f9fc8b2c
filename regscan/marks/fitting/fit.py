"""The fit: marks' centres from their pixels, with covariances that are true.

Light in the patch is modelled as

    plane + ink * contrast + what shift, blur and growth change + a slope of the ink

which is linear once the template's phase (its quarter pixel) is chosen. A few
rounds move the phase to the nearest one; then the answer is the phase's centre
plus the small shift that the last solution found. All marks of a frame are fitted
side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.marks.doubt import Wander
from regscan.marks.fitting.inked import Inked, Settled
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
class Fit:
    """What the fit found. Lengths px; contrast in units of light (negative: darker).

    row_var, col_var, row_col_covar are those of white noise; wander says by how much
    the mark's edge makes them larger; it is one, by its number, of marks that settled together.
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
    settled: Settled
    number: int

    @property
    def read(self) -> Reading:
        """What its last round read."""
        return self.settled.seen.some([self.number])

    @property
    def inked(self) -> Inked:
        """What its pixels show."""
        return self.settled.inked_of(self.number)


def inked_by(fits: Sequence[Fit]) -> Inked:
    """What the pixels of fitted marks show, side by side."""
    settled = fits[0].settled
    together = all(fit.settled is settled for fit in fits)
    if together and [fit.number for fit in fits] == list(range(len(settled.seen.laid))):
        return settled.inked  # most frames
    return Inked.together([fit.inked for fit in fits])


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
        light, weight = gathered(self.start.patch, template, (row, col), thin=True)
        if _too_little(weight, template):
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
    settled, shifts = [], _shifts(solution, seen)
    for k, (mark, shift) in enumerate(zip(marks, shifts, strict=True)):
        template = mark.start.template
        usable = seen.usable[k, : template.tile.size][template.thin]
        # A picture of one colour has no step at all.
        if _too_little(usable, template) or not solution.theta[k, 3]:
            mark.lost = True
        else:
            mark.move(mark.at[0] + shift[0], mark.at[1] + shift[1])
        if not mark.lost and (last or _still(shift)):
            settled.append(k)
    if not settled:
        return
    if len(settled) < len(marks):
        seen = seen.some(settled)
        solution = solution.some(settled, max(seen.stack.counts))
        shifts = [shifts[k] for k in settled]
    for k, fit in zip(settled, fits_of(solution, seen, shifts), strict=True):
        marks[k].fit = fit


def _shifts(solution: Solution, seen: Reading) -> list[tuple[float, float]]:
    return [
        shift_of(theta, one.template.softening)
        for theta, one in zip(solution.theta, seen.laid, strict=True)
    ]


def _still(shift: tuple[float, float]) -> bool:
    return max(abs(shift[0]), abs(shift[1])) <= _HALF_PHASE


def _too_little(weight: np.ndarray, template: Template) -> bool:
    """Whether there are too few usable places for a fit, or none on the ink or on its edge.

    weight   of the template's thinned places."""
    thin = template.thin
    some = weight[template.inside[thin]].any() and weight[template.edge[thin]].any()
    return bool(np.count_nonzero(weight) < 4 * PARTS or not some)


def fits_of(
    solution: Solution, seen: Reading, shifts: Sequence[tuple[float, float]] = ()
) -> list[Fit]:
    """The fits that a solution at the centres that were read for amounts to.

    shifts   from those centres, as far as they are known already."""
    theta, contrast, stack = solution.theta, solution.contrast, seen.stack
    covariance = covariances_of(solution)
    on_edge = stack.edge & (solution.weight > 0.0)
    off = solution.residual * on_edge
    along = [np.count_nonzero(own) for own in on_edge]
    with np.errstate(invalid="ignore", divide="ignore"):
        edge_rms = np.sqrt(np.einsum("mn,mn->m", off, off) / along)
    used = [np.count_nonzero(own) for own in solution.weight]
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
        "used_share": np.divide(used, stack.counts),
    }
    known = [
        dict(zip(values, row, strict=True)) for row in np.stack(list(values.values())).T.tolist()
    ]
    shifts = shifts or _shifts(solution, seen)
    centres = np.array([one.at for one in seen.laid]) + shifts
    settled = Settled(solution, seen, centres)
    return [
        Fit(
            row_px=row,
            col_px=col,
            converged=_still(shifts[k]),
            wander=wander,
            settled=settled,
            number=k,
            **known[k],
        )
        for k, ((row, col), wander) in enumerate(
            zip(centres.tolist(), wanders_of(solution, seen), strict=True)
        )
    ]
