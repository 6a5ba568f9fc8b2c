"""One wave per turn of the supply roll: its wavelength is the roll's girth and shrinks with it.

The square of the roll's diameter falls straight with the web, D^2 = D0^2 - 4 t x / pi. Spectra of
short windows are added up along every such line (a Hough transform over D0 and t); the best
line is then settled on the whole run at once.
"""

from itertools import pairwise

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.shapes import Shape, shape
from regscan.drift.model.spectrum import even_spectra

DIAMETERS_M = (0.15, 1.4)
THICKNESSES_UM = np.geomspace(15.0, 350.0, 36)
LOWEST, HIGHEST = 0.15, 2.5  # turns per metre, a little beyond what such rolls turn
WINDOWS = 12
FEWEST = 24  # moments in a window
FINE = 17  # steps on each of two axes as the best line is settled
LEAST_LINES = 3.0
"""Resolved frequencies that the wave must move through; fewer, and it is a plain wave."""
CLEAR = 20.0
"""Standard deviations of the summed power at which a roll is believed to be there."""


def find_roll(field: Field, series: np.ndarray) -> Shape | None:
    """The roll that some residuals turn with; None when there is none.

    series   moments x series with independent noise.
    """
    web = field.clock.web_m
    if web is None or field.channel == "width":
        return None
    at = web[:, 0]
    count = min(WINDOWS, len(at) // FEWEST)
    if count < 3:
        return None
    edges = np.linspace(0, len(at), count + 1).astype(int)
    parts = [slice(a, b) for a, b in pairwise(edges)]
    diameters = np.linspace(*DIAMETERS_M, 320)
    total = np.zeros((len(diameters), len(THICKNESSES_UM)))
    for part in parts:
        total += _power_on_lines(at[part], series[part], diameters)
    degrees = count * series.shape[1]
    top = np.unravel_index(int(total.argmax()), total.shape)
    if total[top] < degrees + CLEAR * np.sqrt(degrees):
        return None
    found = _settled(at, series, float(diameters[top[0]]), float(THICKNESSES_UM[top[1]]))
    if _lines_passed(at, found) < LEAST_LINES:
        return None
    return shape("roll", diameter_m=found[0], thickness_um=found[1], quarter=0.0)


def _lines_passed(at: np.ndarray, roll: list[float]) -> float:
    ends = (
        _diameter(np.array([roll[0]]), np.array(roll[1]), float(at[0])),
        _diameter(np.array([roll[0]]), np.array(roll[1]), float(at[-1])),
    )
    change = abs(1.0 / ends[1][0] - 1.0 / ends[0][0]) / np.pi
    return float(change * np.ptp(at))


def _diameter(
    diameters: np.ndarray, thickness_um: np.ndarray, web_m: float | np.ndarray
) -> np.ndarray:
    square = diameters**2 - 4e-6 * thickness_um * web_m / np.pi
    return np.asarray(np.sqrt(np.maximum(square, (0.2 * diameters) ** 2)))


def _power_on_lines(at: np.ndarray, series: np.ndarray, diameters: np.ndarray) -> np.ndarray:
    """Power of one window at the frequency each roll would have there; mean 1 per series."""
    middle = float(at.mean())
    here = _diameter(diameters[:, None], THICKNESSES_UM[None, :], middle)
    wanted = 1.0 / (np.pi * here)
    length = float(np.ptp(at))
    tried = np.arange(LOWEST, HIGHEST, 0.4 / length)
    power = even_spectra(at - middle, series - series.mean(axis=0), tried)
    usual = np.median(power, axis=1) / np.log(2.0)
    summed = (power / np.maximum(usual, 1e-300)[:, None]).sum(axis=0)
    return np.asarray(np.interp(wanted, tried, summed, left=0.0, right=0.0))


def _settled(at: np.ndarray, series: np.ndarray, diameter: float, thickness: float) -> list[float]:
    """Both numbers where the whole run's power is largest, in ever smaller steps."""
    best = [diameter, thickness]
    # A tenth of a turn at the end of the run is as close as a step may be.
    wide = [0.02 * diameter, 0.15 * thickness]
    stage = [0.25, 0.5, 1.0, 1.0, 1.0]
    for share in stage:
        upto = slice(0, max(int(share * len(at)), FEWEST))
        grid_d = best[0] + wide[0] * np.linspace(-1.0, 1.0, FINE)
        grid_t = best[1] + wide[1] * np.linspace(-1.0, 1.0, FINE)
        power = _power(at[upto], series[upto], grid_d, np.maximum(grid_t, 1.0))
        k = np.unravel_index(int(power.argmax()), power.shape)
        best = [float(grid_d[k[0]]), float(max(grid_t[k[1]], 1.0))]
        wide = [0.35 * w for w in wide]
    return best


def _power(
    at: np.ndarray, series: np.ndarray, diameters: np.ndarray, thicknesses: np.ndarray
) -> np.ndarray:
    found = np.empty((len(diameters), len(thicknesses)))
    for k, thickness in enumerate(thicknesses.tolist()):
        now = _diameter(diameters[:, None], np.array(thickness), at[None, :])
        turns = (diameters[:, None] - now) / (2e-6 * thickness)
        turning = np.exp(-2j * np.pi * (turns - turns[:, :1]))
        found[:, k] = (np.abs(turning @ series) ** 2).sum(axis=1)
    return found
