"""The gate's answer for one colour on one axis, with what it rests on, in words."""

import math
from dataclasses import dataclass

from regscan.drift.drift import Level, Track
from regscan.drift.reasons import DOUBT_SHARE, LOST_SHARE
from regscan.drift.stretches import FEWEST
from regscan.drift.words import at_speed, counted, lies
from regscan.verdict.rule import conformance, judge, small_sample
from regscan.verdict.verdict import Answer, Case

FEWEST_FRAMES = FEWEST
"""Good frames a settled level must rest on; fewer cannot say how much single frames differ."""


@dataclass(frozen=True, slots=True)
class _Finding:
    """An answer and its reason."""

    answer: Answer
    why: str


def make_case(track: Track) -> Case:
    """The answer for one track: the worst that its settled level, its other holds, the web
    outside tolerance and the frames without the colour have to say."""
    settled = track.settled
    findings = [_settled(track), *_web_outside(track), *_other_holds(track), *_lost(track)]
    answer, why = _worst(findings)
    sd = gate_sd_mm(settled) if settled else None
    return Case(
        station=track.station,
        ink=track.ink,
        camera=track.camera,
        edge=track.edge,
        axis=track.axis,
        tolerance_mm=track.tolerance_mm,
        offset_mm=settled.mean_mm if settled else None,
        sd_mm=sd,
        probability=None
        if settled is None or sd is None
        else conformance(settled.mean_mm, sd, track.tolerance_mm),
        frames=settled.frames if settled else 0,
        answer=answer,
        why=why,
    )


def gate_sd_mm(level: Level) -> float | None:
    """A level's doubt as the gate counts it: larger when it was estimated from few frames."""
    own = level.own_sd_mm
    if own is None or level.spread_mm is None:
        return level.sd_mm
    # Correlated frames count as the fewer independent ones they are worth.
    independent = (level.spread_mm / own) ** 2 if own > 0 else level.frames
    grown = own * small_sample(min(independent, level.frames) - 1.0)
    return math.hypot(grown, level.zero_sd_mm)


def _worst(findings: list[_Finding]) -> tuple[Answer, str]:
    order: list[Answer] = ["out of tolerance", "cannot be decided", "in register"]
    for answer in order:
        whys = [f.why for f in findings if f.answer == answer]
        if whys:
            return answer, "; ".join(whys)
    raise ValueError("a case needs at least one finding")


def _settled(track: Track) -> _Finding:
    level = track.settled
    if level is None:
        return _Finding("cannot be decided", _why_no_level(track))
    if level.doubtful:
        return _Finding("cannot be decided", "only doubtful marks were seen")
    sd = gate_sd_mm(level)
    if level.frames < FEWEST_FRAMES or sd is None:
        have = counted(level.frames, "good frame")
        return _Finding("cannot be decided", f"{have} in the settled hold, {FEWEST_FRAMES} needed")
    return _judged(level, sd, track)


def _judged(level: Level, sd: float, track: Track) -> _Finding:
    answer = judge(level.mean_mm, sd, track.tolerance_mm)
    where = f"{lies(track.axis, level.mean_mm)}{at_speed(level.speed_m_min)} ±{sd:.3f} mm"
    limit = f"{track.tolerance_mm:.3f} mm"
    if answer == "in register":
        return _Finding(answer, f"{where}, within {limit}")
    if answer == "out of tolerance":
        over = abs(level.mean_mm) - track.tolerance_mm
        return _Finding(answer, f"{where}, {over:.3f} mm over the tolerance of {limit}")
    return _Finding(answer, f"{where}, too close to the tolerance of {limit} for its doubt")


def _why_no_level(track: Track) -> str:
    if track.frames_ok + track.frames_doubtful == 0:
        return "the colour was not found in any frame"
    return "the colour never settled at one speed"


def _lost(track: Track) -> list[_Finding]:
    """Too many frames without the colour, or too many doubtful ones, stand against a pass."""
    frames = track.frames_ok + track.frames_doubtful + track.frames_missing
    seen = track.frames_ok + track.frames_doubtful
    found = []
    if seen and track.frames_missing >= 2 and track.frames_missing > LOST_SHARE * frames:
        why = f"the colour was not found in {track.frames_missing} of {frames} frames"
        found.append(_Finding("cannot be decided", why))
    if track.frames_ok and track.frames_doubtful > DOUBT_SHARE * frames:
        why = f"the mark was doubtful in {track.frames_doubtful} of {frames} frames"
        found.append(_Finding("cannot be decided", why))
    return found


def _web_outside(track: Track) -> list[_Finding]:
    if not track.stretches:
        return []
    worst = max((s.worst_mm for s in track.stretches), key=abs)
    metres = track.metres_outside
    amount = counted(track.frames_outside, "frame") if metres is None else f"{metres:.1f} m of web"
    where = counted(len(track.stretches), "stretch")
    why = f"{amount} outside tolerance in {where}, at worst {lies(track.axis, worst)}"
    return [_Finding("out of tolerance", why)]


def _other_holds(track: Track) -> list[_Finding]:
    """The worst hold other than the settled one, which counts only where proven outside."""
    outside = [
        (abs(level.mean_mm), finding)
        for level in track.levels
        if level != track.settled and level.frames >= FEWEST_FRAMES and not level.doubtful
        if (sd := gate_sd_mm(level)) is not None
        if (finding := _judged(level, sd, track)).answer == "out of tolerance"
    ]
    return [max(outside, key=lambda pair: pair[0])[1]] if outside else []
