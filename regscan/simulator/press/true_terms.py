"""The truth in terms: what each fault amounts to at each station, against the reference."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from regscan.simulator.press.effects import CHANNELS, Channel, Drive, Effect, PlateTerm, ViewTerm
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.periodic import WaveM
from regscan.simulator.press.register import Frames, Register, register_of
from regscan.simulator.press.signals import Always, Signal
from regscan.simulator.speed import steady

ANYWHERE = steady(60.0, 100.0)
NOTHING_UM = 1e-3


@dataclass(frozen=True, slots=True)
class TrueTerm:
    """One term of one station's offset against the reference.

    station     counted from 1; channel   circumferential, lateral, skew or width.
    kind        as the signal names it: constant, step, blip, drift, speed, acceleration, two
                levels, warm-up, dwell, period in metres, period in seconds, round the repeat,
                turn of the roll; "... at the frame" where the camera's moment counts.
    size_mm     the signal's size in mm (per m/min for speed, per m/s^2 for acceleration, per m
                for drift), once the web has settled; 0 for a drive that leaves nothing
                lasting: then the kind ends in "transient" and `drive` and its size say what.
    parameters  the signal's other values, and for a transient its drive.
    """

    station: int
    channel: Channel
    kind: str
    size_mm: float
    parameters: dict[str, Any]


def true_terms(machine: Machine, effects: Sequence[Effect], camera: str = "") -> list[TrueTerm]:
    """All terms that these effects put into the offsets; none for the reference itself."""
    return [term for effect in effects for term in _terms_of(machine, effect, camera)]


def _terms_of(machine: Machine, effect: Effect, camera: str) -> Iterator[TrueTerm]:
    if not isinstance(effect, PlateTerm | ViewTerm | Drive):
        return
    signal = effect.signal
    others = {key: value for key, value in asdict(signal).items() if key != "size"}  # type: ignore[call-overload]
    kind = f"{signal.kind} at the frame" if isinstance(effect, ViewTerm) else signal.kind
    settled = _settled(machine, effect, camera)
    for channel, sizes in settled.items():
        for index in np.flatnonzero(np.abs(sizes) * _reach(signal) > NOTHING_UM).tolist():
            yield TrueTerm(index + 1, channel, kind, float(sizes[index]) / 1000.0, others)
    if isinstance(effect, Drive) and not any(np.any(v) for v in settled.values()):
        if effect.kind.startswith("drum") and not machine.metering.gripped:
            return
        channel = _channel(effect)
        passing = others | {"drive": effect.kind, "size": signal.size}
        for index in range(machine.stations):
            if index != machine.reference:
                yield TrueTerm(index + 1, channel, f"{kind} transient", 0.0, passing)


def _reach(signal: Signal) -> float:
    """Sizes per unit of speed, acceleration or web are small numbers with large effects."""
    return {"speed": 100.0, "drift": 1000.0}.get(signal.kind, 1.0)


def _channel(drive: Drive) -> Channel:
    if drive.kind in ("side_um", "shift_um", "roller_urad"):
        return "lateral"
    return "skew" if drive.tilt else "circumferential"


def _settled(
    machine: Machine, effect: PlateTerm | ViewTerm | Drive, camera: str
) -> dict[Channel, np.ndarray]:
    """Per channel, um at each station for the whole size of the effect's signal."""
    one = Frames(np.array([1000.0]), np.zeros(1), camera)

    def answer(signal: Signal) -> dict[Channel, np.ndarray]:
        register = register_of(machine, ANYWHERE, [replace(effect, signal=signal)], one)
        return {channel: _of(register, channel) for channel in CHANNELS}

    signal = effect.signal
    if isinstance(signal, WaveM) and not isinstance(effect, ViewTerm):
        # Two waves a quarter apart give the size of any of them.
        quarter = replace(signal, phase_rad=signal.phase_rad - math.pi / 2.0)
        first, second = answer(signal), answer(quarter)
        return {channel: np.hypot(first[channel], second[channel]) for channel in CHANNELS}
    # What the web forgets leaves a trace of arithmetic only.
    least = 1e-6 * abs(signal.size)
    settled = answer(Always(signal.size))
    return {channel: np.where(np.abs(v) > least, v, 0.0) for channel, v in settled.items()}


def _of(register: Register, channel: Channel) -> np.ndarray:
    return np.asarray(getattr(register, f"{channel}_um")[:, 0])
