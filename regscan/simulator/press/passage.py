"""Passage: the moments at which web stood at one place of the press."""

from dataclasses import dataclass

import numpy as np

from regscan.simulator.speed import SpeedProfile

Numbers = np.ndarray


@dataclass(frozen=True, slots=True)
class Passage:
    """When and how fast web went by; arrays of one length.

    web_m       metres of web that had passed since the start of the run.
    gain_m_s2   acceleration, + when the web gains speed.
    round_m     place round the repeat of the mark in question, 0 to one repeat; the same
                place on every station's plate, wherever the station stands.
    """

    profile: SpeedProfile
    time_s: Numbers
    web_m: Numbers
    speed_m_min: Numbers
    gain_m_s2: Numbers
    round_m: Numbers


def passage(profile: SpeedProfile, web_m: np.ndarray, round_m: np.ndarray | float = 0.0) -> Passage:
    """The moments at which so many metres of web had passed."""
    web = np.asarray(web_m, dtype=float)
    time = profile.time_at(web)
    place = np.broadcast_to(np.asarray(round_m, dtype=float), web.shape)
    return Passage(profile, time, web, profile.speed_at(time), profile.gain_at(time), place)
