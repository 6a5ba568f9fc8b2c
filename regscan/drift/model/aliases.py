"""How the turning parts named in the job would show, and which found wave each one fits.

One frame per repeat samples a wave of girth lam at every pitch P of the frames:
f = |P/lam - round(P/lam)| turns per frame, seen as P/f metres. What turns with the plate
cylinder (lam = repeat/n) shows always the same: f = 0.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from regscan.drift.behaviour import Alias, Estimate, Finding
from regscan.drift.model.clocks import Moments
from regscan.drift.model.reduced import ROUND, places_round
from regscan.job.job import Job
from regscan.job.turning import TurningPart

SLOW, FAST = 0.02, 0.48
"""Turns per frame nearer to 0 or to every other frame than this tell nothing for sure."""
LEAST_TURNS = 4.0
FITS = 3.0
GIRTH_SHARE = 5e-4  # how well a girth is known: a roller's diameter to some hundredths of a mm


def aliases_of(findings: Sequence[Finding], moments: Moments, job: Job) -> Iterator[Alias]:
    """The plate cylinder first, then the parts in the order of the job."""
    web = moments.web_m
    if web is None or len(web) < 3:
        return
    at = web[:, 0]
    pitch, length = _pitch(at), float(np.ptp(at))
    round_shown = places_round(moments) >= ROUND
    plate = TurningPart("plate cylinder and its gear", job.press.repeat_mm)
    for part in (plate, *job.press.turning):
        yield _alias(part, pitch, length, round_shown, findings)


def seen_length_m(girth_mm: float, pitch_m: float) -> float | None:
    """Crest to crest in frames that are pitch_m apart; None for what always shows the same."""
    turns = pitch_m * 1000.0 / girth_mm
    off = abs(turns - round(turns))
    return None if off < 1e-9 else pitch_m / off


def _pitch(at: np.ndarray) -> float:
    """The usual web between two frames; lost frames make longer steps."""
    steps = np.diff(at)
    steps = steps[steps > 1e-4]
    if not len(steps):
        return 1.0
    usual = float(np.percentile(steps, 10))
    turns = np.rint(steps / usual)
    return float(steps.sum() / turns.sum())


def _alias(
    part: TurningPart, pitch: float, length: float, round_shown: bool, findings: Sequence[Finding]
) -> Alias:
    seen = part.girth_mm / 1000.0 if round_shown else seen_length_m(part.girth_mm, pitch)
    if seen is None or seen > 1e3 * length:
        return Alias(part.name, part.station, part.girth_mm, "constant", None, None, None)
    if not round_shown and pitch / seen > FAST:
        return Alias(part.name, part.station, part.girth_mm, "scatter", seen, None, None)
    if not round_shown and (pitch / seen < SLOW or length / seen < LEAST_TURNS):
        return Alias(part.name, part.station, part.girth_mm, "drift", seen, None, None)
    number, off = _fitting(part, pitch, seen, round_shown, findings)
    return Alias(part.name, part.station, part.girth_mm, "wave", seen, number, off)


def _fitting(
    part: TurningPart, pitch: float, seen: float, round_shown: bool, findings: Sequence[Finding]
) -> tuple[int | None, float | None]:
    """The wave whose length is that of the part, within the doubt of both."""
    best: tuple[int | None, float | None] = (None, None)
    for number, finding in enumerate(findings):
        length = _length(finding)
        if length is None:
            continue
        # Compared as turns per metre, where the doubt of a girth is the same at every alias.
        doubt = np.hypot(length.sd / length.value**2, GIRTH_SHARE * 1000.0 / part.girth_mm)
        seen_now = length.value if round_shown else _folded(length.value, pitch)
        off = abs(1.0 / seen_now - 1.0 / seen) / float(doubt)
        if off < FITS and (best[1] is None or off < best[1]):
            best = (number, off)
    return best


def _folded(length_m: float, pitch: float) -> float:
    turns = pitch / length_m
    return pitch / max(abs(turns - round(turns)), 1e-9)


def _length(finding: Finding) -> Estimate | None:
    if finding.kind != "period in metres":
        return None
    return next((s.estimate for s in finding.term.settings if s.name == "wavelength_m"), None)
