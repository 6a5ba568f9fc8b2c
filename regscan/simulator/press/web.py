"""What the web does to each station's print at the moments it printed."""

from collections.abc import Callable, Sequence

import numpy as np

from regscan.simulator.press.effects import CHANNELS, Channel, Drive, Effect
from regscan.simulator.press.inputs import inputs_of
from regscan.simulator.press.lateral import web_side
from regscan.simulator.press.layouts import web_state
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.passage import Passage, passage
from regscan.simulator.press.periodic import WaveM
from regscan.simulator.press.strain import Solver, Steps, Wave
from regscan.simulator.speed import SpeedProfile

# Steps of web: as fine as that many points allow, but within these bounds. A jump is smeared
# over one step; what the straight lines between the points leave out of a span's answer
# to anything smooth is step^2 / (12 L^2) of it, 1e-4 for a metre at the coarsest [D].
POINTS, FINEST_M, COARSEST_M = 100_000, 0.005, 0.035
# The web starts settled; still, this many paths of the press run before the first print.
LEAD = 3.0

Own = dict[Channel, np.ndarray]
Pick = Callable[[np.ndarray], np.ndarray]


def web_terms(
    machine: Machine,
    profile: SpeedProfile,
    effects: Sequence[Effect],
    printed: Sequence[Passage],
) -> Own:
    """Per channel, um at each station's printing moments (stations x frames).

    Drives that go as a wave in metres are solved as waves, all others step by step.
    """
    web = np.array([p.web_m for p in printed])
    own: Own = {channel: np.zeros(web.shape) for channel in CHANNELS}
    drives = [effect for effect in effects if isinstance(effect, Drive)]
    for tilt in (False, True):
        mine = [drive for drive in drives if drive.tilt == tilt]
        steady = [drive for drive in mine if not isinstance(drive.signal, WaveM)]
        if steady:
            _step_by_step(machine, profile, steady, web, own)
        for drive in mine:
            if isinstance(drive.signal, WaveM):
                _as_wave(machine, drive, drive.signal, web, own)
    return own


def _step_by_step(
    machine: Machine,
    profile: SpeedProfile,
    drives: Sequence[Drive],
    web: np.ndarray,
    own: Own,
) -> None:
    first = web.min() - LEAD * (float(np.sum(machine.span_m)) + machine.outfeed_m)
    step_m = float(np.clip((web.max() - first) / POINTS, FINEST_M, COARSEST_M))
    points = np.arange(first, web.max() + 2.0 * step_m, step_m)
    along = passage(profile, points)
    amounts = [(drive, drive.signal.at(along)) for drive in drives]

    def pick(values: np.ndarray) -> np.ndarray:
        return np.array([np.interp(w, points, v) for w, v in zip(web, values, strict=True)])

    _put(machine, amounts, Steps(step_m), pick, own)


def _as_wave(machine: Machine, drive: Drive, wave: WaveM, web: np.ndarray, own: Own) -> None:
    turning = np.exp(1j * wave.per_m * web)
    amount = np.array([wave.size * np.exp(1j * wave.phase_rad)])
    _put(machine, [(drive, amount)], Wave(wave.per_m), lambda v: (v * turning).real, own)


def _put(
    machine: Machine,
    amounts: Sequence[tuple[Drive, np.ndarray]],
    solver: Solver,
    pick: Pick,
    own: Own,
) -> None:
    """Solve, and add what the stations printed at their moments to the channels."""
    inputs = inputs_of(machine, amounts, solver)
    kinds = {drive.kind for drive, _ in amounts}
    tilt = amounts[0][0].tilt
    if kinds & {"side_um", "roller_urad", "shift_um"} and not tilt:
        # The print stays where the plate is; the web under it lay to the drive side.
        own["lateral"] -= pick(web_side(machine, inputs, solver))
    if kinds - {"side_um", "roller_urad", "shift_um"}:
        state = web_state(machine, inputs, solver)
        own["skew" if tilt else "circumferential"] += pick(state.late_um)
        if not tilt:
            # Printed on a web narrowed by tension or widened by heat, a pattern is wider or
            # narrower for it once the web relaxes.
            wide = machine.poisson * state.elastic_ppm - inputs.wide_ppm
            own["width"] += pick(wide) * machine.spacing_mm / 1000.0
