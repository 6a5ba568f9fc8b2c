"""The rules a job can ask: each looks at one colour on one axis and gives findings.

docs/how/gate.md says what each asks, why, and what its default is.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from regscan.drift.drift import Level, Track, furthest_out
from regscan.drift.words import at_speed, counted, doubted, lies
from regscan.job.rules import GateRules, Rule
from regscan.verdict.enough import FEWEST_OUT, frames_for, surely_outside
from regscan.verdict.finding import Finding
from regscan.verdict.rule import factor, judge, small_sample
from regscan.verdict.verdict import Answer
from regscan.verdict.views import own_doubt_mm


@dataclass(frozen=True, slots=True)
class Asked:
    """One colour on one axis, the same at the other web edge (None: not seen there), the rules."""

    track: Track
    other_edge: Track | None
    rules: GateRules


def gate_sd_mm(level: Level) -> float | None:
    """A level's doubt as the gate counts it: larger when it was estimated from few frames, and
    never better than print noise allows where they are too few to show theirs."""
    own, least = level.own_sd_mm, own_doubt_mm(level)
    if own is None or least is None:
        return level.sd_mm
    if level.spread_mm is not None:
        # Correlated frames count as the fewer independent ones they are worth.
        independent = (level.spread_mm / own) ** 2 if own > 0 else level.frames
        least = max(least, own * small_sample(min(independent, level.frames) - 1.0))
    return math.hypot(least, level.zero_sd_mm)


def asked_always(asked: Asked) -> list[Finding]:
    """That the colour was seen, surely, and settled in enough frames: no rule can be dropped
    so far that a colour never seen passes."""
    track, rules = asked.track, asked.rules
    return [_enough(track, rules), *_lost(track, rules)]


def levels(asked: Asked) -> list[Finding]:
    """The settled level inside tolerance, and no other hold proven outside."""
    track, rules = asked.track, asked.rules
    level = track.settled
    found = []
    if level and not level.doubtful:
        sd = gate_sd_mm(level)
        if level.frames >= rules.least_frames and sd is not None:
            found.append(_judged(level, sd, track, rules))
        elif far := _far_outside(level, track):
            found.append(far)
    return found + _other_holds(track, rules)


def metres_outside(asked: Asked) -> list[Finding]:
    """No more web outside tolerance than allowed, at any speed."""
    track, most = asked.track, asked.rules.most_metres_outside_m
    metres = track.metres_outside
    if not track.stretches or (metres is not None and metres <= most):
        return []
    worst = furthest_out(track.stretches)
    amount = counted(track.frames_outside, "frame") if metres is None else f"{metres:.1f} m of web"
    where = counted(len(track.stretches), "stretch")
    allowed = f" ({most:g} m allowed)" if most else ""
    furthest = lies(track.axis, worst.worst_mm, worst.worst_sd_mm)
    why = f"{amount} outside tolerance in {where}{allowed}, at worst {furthest}"
    return [Finding("out of tolerance", why)]


def share_inside(asked: Asked) -> list[Finding]:
    """Enough of all good frames inside; the share with its doubt (Wilson's bounds)."""
    track, rules = asked.track, asked.rules
    frames, least = track.frames_ok, rules.share_inside
    if not frames:
        return []
    inside = 1.0 - track.frames_outside / frames
    low, high = wilson(inside, frames, rules)
    why = f"{inside:.1%} of {frames} frames inside, at least {least:.1%} asked"
    answer = _between(inside, low, high, least, rules)
    if answer == "cannot be decided":
        z = factor(rules.confidence)
        needed = math.ceil(z**2 * least / (1.0 - least))
        if needed > frames and not track.frames_outside:
            why += f"; {needed - frames} more frames without one outside would prove it"
        else:
            why += ", too close to tell from so few frames"
    return [Finding(answer, why)]


def wilson(share: float, frames: int, rules: GateRules) -> tuple[float, float]:
    """One-sided bounds of a share seen in so many frames (Wilson 1927, from memory)."""
    z = factor(rules.confidence)
    middle = share + z**2 / (2 * frames)
    reach = z * math.sqrt(share * (1 - share) / frames + z**2 / (4 * frames**2))
    whole = 1 + z**2 / frames
    return (middle - reach) / whole, (middle + reach) / whole


def excursions(asked: Asked) -> list[Finding]:
    """The worst frame while the speed changes, not beyond its limit."""
    track, rules = asked.track, asked.rules
    if not track.excursions:
        return []
    worst = max(track.excursions, key=lambda one: abs(one.worst_mm))
    limit = rules.worst_excursion_mm or track.tolerance_mm
    spread = track.settled.spread_mm if track.settled else None
    sd = max(worst.sd_mm or 0.0, spread or 0.0)
    where = f"{lies(track.axis, worst.worst_mm, sd or None)}{at_speed(worst.speed_m_min)} in a ramp"
    # The worst of many frames lies far out by its own noise too: only what is proven counts
    # as out, and what lies inside as it is counts as in.
    if abs(worst.worst_mm) <= limit:
        return [Finding("in register", f"{where}, within {limit:.3f} mm")]
    if judge(worst.worst_mm, sd, limit, "prove nonconformity", rules.confidence) == "in register":
        simple = rules.decision == "simple acceptance"
        if rules.decision == "prove nonconformity":
            return [Finding("in register", f"{where}, not proven beyond {limit:.3f} mm")]
        answer: Answer = "out of tolerance" if simple else "cannot be decided"
        return [Finding(answer, f"{where}, too close to {limit:.3f} mm for one frame's doubt")]
    return [Finding("out of tolerance", f"{where}, beyond {limit:.3f} mm")]


def capability(asked: Asked) -> list[Finding]:
    """The capability index of the settled hold, with its doubt."""
    level, rules = asked.track.settled, asked.rules
    if level is None or level.doubtful or not level.spread_mm:
        return []
    index = cpk(level.mean_mm, level.spread_mm, asked.track.tolerance_mm)
    own = level.own_sd_mm or 0.0
    independent = min((level.spread_mm / own) ** 2 if own else level.frames, level.frames)
    # Bissell 1990, from memory: the doubt of an index estimated from so many frames.
    sd = math.sqrt(1 / (9 * independent) + index**2 / (2 * max(independent - 1, 1)))
    reach = factor(rules.confidence) * sd
    why = f"capability index {index:.2f} ±{sd:.2f}, at least {rules.least_capability:g} asked"
    answer = _between(index, index - reach, index + reach, rules.least_capability, rules)
    return [Finding(answer, why)]


def cpk(mean_mm: float, spread_mm: float, limit_mm: float) -> float:
    """Distance from the mean to the nearer limit in units of three spreads."""
    return (limit_mm - abs(mean_mm)) / (3.0 * spread_mm)


def skew(asked: Asked) -> list[Finding]:
    """The difference of both web edges: skew, or a change of width."""
    track, other, rules = asked.track, asked.other_edge, asked.rules
    one, two = track.settled, other.settled if other else None
    if one is None or two is None or one.doubtful or two.doubtful:
        return []
    sds = gate_sd_mm(one), gate_sd_mm(two)
    difference = abs(one.mean_mm - two.mean_mm)
    limit = rules.most_skew_mm or track.tolerance_mm
    what = "skew" if track.axis == "circumferential" else "change of width"
    sd = None if sds[0] is None or sds[1] is None else math.hypot(sds[0], sds[1])
    apart = doubted(difference, sd)
    why = f"{apart} between the web edges ({what}), {limit:.3f} mm allowed"
    if sd is None:
        return [Finding("cannot be decided", f"{why}, doubt not known")]
    return [Finding(judge(difference, sd, limit, rules.decision, rules.confidence), why)]


RULES: Mapping[Rule, Callable[[Asked], list[Finding]]] = {
    "levels": levels,
    "metres outside": metres_outside,
    "share inside": share_inside,
    "excursions": excursions,
    "capability": capability,
    "skew": skew,
}


def _between(value: float, low: float, high: float, least: float, rules: GateRules) -> Answer:
    """A number that must be at least so much, with its bounds."""
    if rules.decision == "simple acceptance":
        return "in register" if value >= least else "out of tolerance"
    if high < least:
        return "out of tolerance"
    proven = low >= least or rules.decision == "prove nonconformity"
    return "in register" if proven else "cannot be decided"


def _enough(track: Track, rules: GateRules) -> Finding:
    level = track.settled
    if level is None:
        return Finding("cannot be decided", _why_no_level(track))
    if level.doubtful:
        return Finding("cannot be decided", "only doubtful marks were seen")
    if level.frames < rules.least_frames or gate_sd_mm(level) is None:
        have = counted(level.frames, "good frame")
        needed = frames_for(level, track.tolerance_mm, rules) or rules.least_frames
        more = max(needed - level.frames, 1)
        why = f"{have} in the settled hold, {rules.least_frames} needed"
        if needed < rules.least_frames:
            why += f" to pass; {more} more this far out would fail it"
        else:
            why += f": about {more} more would decide"
        return Finding("cannot be decided", why)
    return Finding("in register", f"seen in {counted(level.frames, 'good frame')}")


def _far_outside(level: Level, track: Track) -> Finding | None:
    """Too few frames to pass, yet so far out that they prove a failure."""
    own, limit = own_doubt_mm(level), track.tolerance_mm
    if level.frames < FEWEST_OUT or own is None:
        return None
    sd = math.hypot(own, level.zero_sd_mm)
    if not surely_outside(level.mean_mm, sd, limit):
        return None
    few = counted(level.frames, "good frame")
    why = f"{lies(track.axis, level.mean_mm, sd)} in {few}, beyond {limit:.3f} mm past any doubt"
    return Finding("out of tolerance", why)


def _judged(level: Level, sd: float, track: Track, rules: GateRules) -> Finding:
    limit_mm = track.tolerance_mm
    answer = judge(level.mean_mm, sd, limit_mm, rules.decision, rules.confidence)
    where = f"{lies(track.axis, level.mean_mm, sd)}{at_speed(level.speed_m_min)}"
    limit = f"{limit_mm:.3f} mm"
    if answer == "in register":
        beyond = abs(level.mean_mm) > limit_mm
        return Finding(answer, f"{where}, {'not proven beyond' if beyond else 'within'} {limit}")
    if answer == "out of tolerance":
        over = abs(level.mean_mm) - limit_mm
        return Finding(answer, f"{where}, {over:.3f} mm over the tolerance of {limit}")
    why = f"{where}, too close to the tolerance of {limit} for its doubt"
    needed = frames_for(level, limit_mm, rules)
    if needed is None:
        return Finding(answer, f"{why}; more frames would not decide it")
    more = max(needed - level.frames, 1)
    return Finding(answer, f"{why}; about {counted(more, 'more frame')} like these would decide")


def _why_no_level(track: Track) -> str:
    if track.frames_ok + track.frames_doubtful == 0:
        return "the colour was not found in any frame"
    return "the colour never settled at one speed"


def _lost(track: Track, rules: GateRules) -> list[Finding]:
    """Too many frames without the colour, or too many doubtful ones, stand against a pass."""
    seen = track.frames_ok + track.frames_doubtful
    frames = seen + track.frames_missing
    found = []
    if seen and track.frames_missing >= 2 and track.frames_missing > rules.missing_share * frames:
        why = f"the colour was not found in {track.frames_missing} of {frames} frames"
        found.append(Finding("cannot be decided", why))
    if track.frames_ok and track.frames_doubtful > rules.doubtful_share * frames:
        why = f"the mark was doubtful in {track.frames_doubtful} of {frames} frames"
        found.append(Finding("cannot be decided", why))
    return found


def _other_holds(track: Track, rules: GateRules) -> list[Finding]:
    """The worst hold other than the settled one, which counts only where proven outside."""
    outside = [
        (abs(level.mean_mm), finding)
        for level in track.levels
        if level != track.settled and level.frames >= rules.least_frames and not level.doubtful
        if (sd := gate_sd_mm(level)) is not None
        if (finding := _judged(level, sd, track, rules)).answer == "out of tolerance"
    ]
    return [max(outside, key=lambda pair: pair[0])[1]] if outside else []
