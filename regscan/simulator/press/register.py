"""Register at the frames: web and plates together, every station when it printed.

The frame at web position x shows what station i printed at x - d_i, with d_i the web path
to the camera, so marks of one frame are of different age:
    offset[i | r](x) = own[i](x - d_i) - own[r](x - d_r)          own: late, early, aside
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regscan.simulator.press.effects import CHANNELS, Effect, PlateTerm, ViewTerm
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.passage import Passage, passage
from regscan.simulator.press.web import web_terms
from regscan.simulator.speed import SpeedProfile


@dataclass(frozen=True)
class Register:
    """True offsets against the reference, um; stations x frames. Signs as everywhere.

    skew_um, width_um   drive-side mark minus operator-side mark, along and across the web.
    """

    circumferential_um: np.ndarray
    lateral_um: np.ndarray
    skew_um: np.ndarray
    width_um: np.ndarray

    def at_edge(self, edge: str) -> tuple[np.ndarray, np.ndarray]:
        """(circumferential, lateral) um of the marks at one web edge; "" is mid-web."""
        side = {"operator": -0.5, "drive": 0.5}.get(edge, 0.0)
        return (
            self.circumferential_um + side * self.skew_um,
            self.lateral_um + side * self.width_um,
        )


@dataclass(frozen=True)
class Frames:
    """Frames of one camera: the web that had passed it, and the marks' place round the repeat."""

    web_m: np.ndarray
    round_m: np.ndarray
    camera: str = ""


def frames_at(machine: Machine, web_m: Sequence[float] | np.ndarray, camera: str = "") -> Frames:
    """Frames at web positions; whole repeats show the marks at the plate's start."""
    web = np.asarray(web_m, dtype=float)
    # A hair is added so that a whole repeat is not taken for the very end of one.
    place = np.mod(web + 1e-6, machine.repeat_m)
    return Frames(web, np.maximum(place - 1e-6, 0.0), camera)


def register_of(
    machine: Machine, profile: SpeedProfile, effects: Sequence[Effect], frames: Frames
) -> Register:
    """What these effects together do to every station at these frames."""
    printed = printed_at(machine, profile, frames)
    own = web_terms(machine, profile, effects, printed)
    for effect in effects:
        if isinstance(effect, PlateTerm):
            for i in range(machine.stations)[machine.rows(effect.station)]:
                own[effect.channel][i] += effect.signal.at(printed[i])
    seen = passage(profile, frames.web_m, frames.round_m)
    for effect in effects:
        if isinstance(effect, ViewTerm):
            own["circumferential"][machine.rows(effect.station)] += effect.signal.at(seen)
    against = {channel: own[channel] - own[channel][machine.reference] for channel in CHANNELS}
    return Register(**{f"{channel}_um": values for channel, values in against.items()})


def printed_at(machine: Machine, profile: SpeedProfile, frames: Frames) -> list[Passage]:
    """For each station, when it printed what these frames show."""
    ages = machine.age_m(frames.camera)
    return [passage(profile, frames.web_m - age, frames.round_m) for age in ages]
