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


@dataclass(frozen=True)
class Known:
    """Sizes of one movement with their covariance, and the doubts of its settings."""

    size: np.ndarray
    covariance: np.ndarray
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
        if "at_m" in move.settings:
            sds["at_m"] = float(np.hypot(sds.get("at_m", 0.0), _pitch(field) / 12.0**0.5))
        found.append(Known(size, covariance[part, part], sds))
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


def _pitch(field: Field) -> float:
    web = field.clock.web_m
    return 0.0 if web is None else float(np.median(np.diff(web[:, 0])))
