"""A first idea of the noise: what a generous set of slow terms leaves."""

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Scale, scale_of
from regscan.drift.pieces import noise_of

WAVES = 8
STANDS_OFF = 1.5


def first_scale(field: Field) -> tuple[Scale, np.ndarray]:
    """The noise about slow waves, the speed and its changes, and what these leave, mm."""
    terms = _terms(field)
    left = _left_by(field, terms)
    return scale_of(field, _usual(field, left), terms), left


def _usual(field: Field, left: np.ndarray) -> np.ndarray:
    """Residuals of stations that stand off shrunk to what is usual.

    A large movement that the slow terms do not know would pass for noise and hide itself. How
    restless each station is from frame to frame tells what its noise can be.
    """
    short = np.array([noise_of(v[w > 0.0]) for v, w in zip(left.T, field.weight.T, strict=True)])
    spread = np.sqrt(np.mean(left**2, axis=0))
    ratio = spread / np.maximum(short, 1e-9)
    most = STANDS_OFF * float(np.median(ratio))
    return np.asarray(left * np.minimum(1.0, most / np.maximum(ratio, 1e-9)))


def _terms(field: Field) -> np.ndarray:
    clock, count = field.clock, len(field.gap)

    def middle(values: np.ndarray) -> np.ndarray:
        return field.together(values.mean(axis=1))

    at = np.linspace(0.0, 1.0, count)
    waves = WAVES if count > 60 else 2
    columns = [np.cos(np.pi * k * at) for k in range(waves + 1)]
    if clock.speeds_differ and count > 60:
        assert clock.speed_m_min is not None
        columns.append(middle(clock.speed_m_min))
        if clock.direction is not None:
            columns.append(middle(clock.direction < 0.0))
        if clock.gain_m_s2 is not None:
            columns += [middle(clock.gain_m_s2), middle(clock.gain_m_s2 < 0.0)]
    if clock.time_s is not None:
        since = middle(clock.time_s) - clock.time_s.min()
        span = max(float(since.max()), 1e-9)
        columns += [np.exp(-since / (part * span)) for part in (0.02, 0.08)]
    table = np.column_stack(columns)
    return np.asarray(table / np.maximum(np.abs(table).max(axis=0), 1e-12))


def _left_by(field: Field, terms: np.ndarray) -> np.ndarray:
    left = np.empty_like(field.value_mm)
    for j, values in enumerate(field.value_mm.T):
        root = np.sqrt(field.weight[:, j])
        found, *_ = np.linalg.lstsq(terms * root[:, None], values * root, rcond=None)
        left[:, j] = values - terms @ found
    return left
