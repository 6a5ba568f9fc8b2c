"""How well sizes and settings are known: every setting that was searched for counts.

Beside the columns of the sizes stands, for every setting, how the whole movement changes with it
(a linearised fit, as after Gauss and Newton). The doubts of the sizes so hold that of the
settings, and the settings get doubts of their own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Model, Scale
from regscan.drift.model.movement import Movement, columns_of
from regscan.drift.model.refine import gains_beside

STEP = {"tau_s": 0.02, "length_m": 0.0005, "period_s": 0.0005, "diameter_m": 0.0005}
"""Relative steps for settings that are ratios; 2 % of a setting's usual size for others."""
SMOOTH = {
    "tau_s": 0.0,
    "power": 0.05,
    "fast": 0.05,
    "onset_m_min": 1.0,
    "rise_m": 0.3,
    "at_m": 0.3,
    "from_m": 5.0,
    "to_m": 5.0,
    "length_m": 0.0,
    "period_s": 0.0,
    "diameter_m": 0.0,
    "thickness_um": 0.2,
}
AWAY = np.concatenate((np.arange(0.125, 2.0, 0.125), [2.0, 3.0, 5.0, 8.0, 13.0, 21.0, 34.0]))
"""Where a step might have been as well, in gaps between frames."""


@dataclass(frozen=True)
class Known:
    """Sizes of one movement with their covariance, its settings and their doubts."""

    size: np.ndarray
    covariance: np.ndarray
    settings: dict[str, float]
    setting_sd: dict[str, float]


def known_of(
    field: Field, scale: Scale, moves: Sequence[Movement], sizes: Sequence[np.ndarray]
) -> list[Known]:
    """For every movement, its sizes (as fitted) with all doubt, beside all others."""
    slopes = [
        (number, name, slope(field, move, size, name))
        for number, (move, size) in enumerate(zip(moves, sizes, strict=True))
        for name in searched(move)
    ]
    told = [(n, name, s) for n, name, s in slopes if np.abs(s).max() > 1e-12]
    columns = columns_of(field, moves)
    more = [s[:, :, None] for _, _, s in told]
    model = Model(scale, scale.whiten(np.concatenate([columns, *more], axis=2)))
    stations = field.value_mm.shape[1]
    covariance = model.covariance[stations:, stations:]
    found, at = [], 0
    for number, (move, size) in enumerate(zip(moves, sizes, strict=True)):
        part = slice(at, at + move.sizes)
        at += move.sizes
        sds = {
            name: float(np.sqrt(max(covariance[k, k], 0.0)))
            for k, (n, name, _) in enumerate(told, columns.shape[2])
            if n == number
        }
        settings = dict(move.settings)
        if move.kind == "step":
            settings["at_m"], sd = _place(field, scale, moves, number)
            # What comes up slowly begins somewhere within its rise, however the slopes see it.
            rise = settings.get("rise_m", 0.0)
            sds["at_m"] = min(sds.get("at_m", np.inf), float(np.hypot(sd, rise)))
        elif "at_m" in settings:
            sds["at_m"] = _pitch(field, settings["at_m"]) / 12.0**0.5
        found.append(Known(size, covariance[part, part], settings, sds))
    return found


def searched(move: Movement) -> list[str]:
    """Settings that were searched for and change the movement smoothly."""
    names = [name for name in move.settings if name in SMOOTH and name != "at_m"]
    if move.kind == "dose" and move.settings["fast"] >= 1.0:
        names = ["power"]
    if move.kind == "step" and move.settings.get("rise_m", 0.0) <= 0.0:
        names = [name for name in names if name != "rise_m"]
    elif move.kind == "step":
        names.append("at_m")  # a step that comes up slowly begins at no corner of a frame
    return names


def slope(field: Field, move: Movement, size: np.ndarray, name: str) -> np.ndarray:
    """How the movement changes with a setting: mm per unit, moments x stations."""
    value = move.settings[name]
    step = STEP.get(name, 0.0) * value or SMOOTH[name]

    def moved(to: float) -> np.ndarray:
        shapes = tuple(one.but(**{name: to}) for one in move.shapes)
        return np.asarray(replace(move, shapes=shapes).at(field) @ size)

    return (moved(value + step) - moved(value - step)) / (2.0 * step)


def _place(
    field: Field, scale: Scale, moves: Sequence[Movement], number: int
) -> tuple[float, float]:
    """Where a step is, m, and its sd: mean and spread of the likelihood.

    One that is there at once does not change smoothly with its place, so no slope tells: between
    two frames every place is as good, and noise may hide or feign a jump some frames away.
    """
    move, at = moves[number], moves[number].settings["at_m"]
    off = _pitch(field, at) * np.concatenate((-AWAY[::-1], [0.0], AWAY))
    shapes = [move.shapes[0].but(at_m=at + by) for by in off.tolist()]
    others = [one for k, one in enumerate(moves) if k != number]
    gains = gains_beside(field, scale, others)(shapes, move.pattern)
    belief = np.exp((gains - gains.max()) / 2.0) * np.gradient(off)
    belief /= belief.sum()
    mean = float(belief @ off)
    return at + mean, float(np.sqrt(belief @ (off - mean) ** 2))


def _pitch(field: Field, at_m: float) -> float:
    """The widest gap, m, between what two frames show of a station about a place."""
    web = field.clock.web_m
    if web is None or len(web) < 2:
        return 0.0
    after = [np.clip(np.searchsorted(column, at_m), 1, len(web) - 1) for column in web.T]
    return float(max(np.diff(column)[k - 1] for column, k in zip(web.T, after, strict=True)))
