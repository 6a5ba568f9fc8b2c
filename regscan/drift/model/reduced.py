"""What was wanting in a run, and what could not be looked for without it: nothing is made up."""

from collections.abc import Iterator

import numpy as np

from regscan.drift.model.channels import Scene
from regscan.drift.model.clocks import Moments, RunClock

FEWEST = 24
"""Moments that a run must have for any term to be looked for."""
MISSING = 0.15
ROUND = 3  # places round the repeat that show what turns with the plate cylinder


def reduced_of(scene: Scene, clock: RunClock, moments: Moments) -> Iterator[str]:
    """Sentences about what is not known, each with what follows from it."""
    if moments.time_s is None:
        yield "no times: nothing that goes with seconds (warming, a guide's swing) was looked for"
    if moments.web_m is None:
        yield (
            "no web positions for all frames: marks count as printed when their frame was taken, "
            "and nothing that goes with metres (tension, periods, a splice) was looked for"
        )
    yield from _speed(moments)
    lost = missing_share(clock)
    if lost > MISSING:
        yield (
            f"about {100 * lost:.0f} in 100 of the evenly taken frames are missing: "
            "doubts are wider, and short events may have been missed"
        )
    if len(scene.edges) < 2:
        yield "marks at one web edge only: skew and width cannot be told"
    if places_round(moments) < ROUND:
        yield (
            "one mark per repeat: whatever turns with the plate cylinder (its own run-out, its "
            "gear) is invisible here; marks at three or more places round the repeat show it"
        )


def _speed(moments: Moments) -> Iterator[str]:
    if moments.speed_m_min is None:
        yield "no speed at all: terms of speed, acceleration and direction were not looked for"
    elif not moments.speeds_differ:
        yield (
            "one speed only: terms of speed, acceleration and direction cannot be told; a run "
            "that slows down and speeds up again, with holds, shows them"
        )
    elif moments.gain_m_s2 is None:
        yield "speeds without a clock: terms of acceleration were not looked for"


def missing_share(clock: RunClock) -> float:
    """Share of frames that are not there, where frames are taken at an even pitch; else 0."""
    at = clock.web if clock.web is not None else clock.time
    if at is None or len(at) < FEWEST:
        return 0.0
    steps = np.diff(at)
    steps = steps[steps > 1e-4]
    if not len(steps):
        return 0.0
    pitch = float(np.percentile(steps, 10))
    turns = steps / pitch
    even = float(np.mean(np.abs(turns - np.rint(turns)) < 0.05))
    return 0.0 if even < 0.9 else 1.0 - len(steps) / float(np.rint(turns).sum())


def places_round(moments: Moments) -> int:
    """At how many places of the repeat the frames look; 0 where that is not known."""
    share = moments.round_share
    return 0 if share is None else len(np.unique(np.round(share[:, 0], 2)))
