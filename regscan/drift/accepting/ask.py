"""A run held against the protocol of its job."""

from collections.abc import Iterable, Sequence

from regscan.drift.costing.slower import RAMPS, ramp_rate
from regscan.drift.drift import Drift, Segment, Track
from regscan.drift.protocol import ProtocolCheck, ProtocolItem
from regscan.job.rules import AcceptanceRules

NEAR_SPEED = 0.1  # share of a speed within which it counts as held
NEAR_RATE = 1.0 / 3.0


def ask_protocol(drift: Drift, rules: AcceptanceRules) -> ProtocolCheck:
    """Every item of the protocol, with what was found and what is missing."""
    if not any(s.phase != "unknown" for s in drift.segments):
        what = "record the speed: give a speed log, or the speed of every frame"
        known = ProtocolItem("speed", "known all along", "not known", what)
        return ProtocolCheck(rules.name, (known,))
    return ProtocolCheck(
        rules.name,
        (
            _speed_known(drift),
            _web_known(drift),
            _times(drift.segments, rules),
            _holds(drift.segments, rules),
            *([_rates(drift.segments, rules)] if rules.rates_m_s2 else []),
            _hold_frames(drift, rules),
            _ramp_frames(drift, rules),
        ),
    )


def _speed_known(drift: Drift) -> ProtocolItem:
    lost = [s for s in drift.segments if s.phase == "unknown"]
    frames = sum(s.last_frame - s.first_frame + 1 for s in lost)
    found = "known" if not lost else f"not known for {frames} frames"
    missing = "record the speed without gaps" if lost else ""
    return ProtocolItem("speed", "known all along", found, missing)


def _web_known(drift: Drift) -> ProtocolItem:
    known = drift.metres_total is not None
    missing = "" if known else "record web positions, or times with the speed log's clock"
    return ProtocolItem("web positions", "known all along", "known" if known else "not", missing)


def _level(segment: Segment, rules: AcceptanceRules) -> str:
    """Which of the two speeds a hold has; "" for another."""
    speed = segment.end_speed_m_min
    if segment.phase != "hold" or speed is None:
        return ""
    for name, wanted in (("fast", rules.fast_m_min), ("slow", rules.slow_m_min)):
        if abs(speed - wanted) <= NEAR_SPEED * wanted:
            return name
    return ""


def _times(segments: Sequence[Segment], rules: AcceptanceRules) -> ProtocolItem:
    levels = [level for s in segments if (level := _level(s, rules))]
    steps = [one for k, one in enumerate(levels) if k == 0 or one != levels[k - 1]]
    text = " ".join(steps)
    times = 0
    while text.startswith("fast slow fast") or " fast slow fast" in text:
        # The fast hold that ends one round begins the next.
        text = text.replace("fast slow fast", "fast", 1)
        times += 1
    wanted = f"{rules.times} x {rules.fast_m_min:g} to {rules.slow_m_min:g} m/min and back"
    held = ", ".join(f"{s.end_speed_m_min:.0f}" for s in segments if s.phase == "hold")
    found = f"{times} x (held: {held or 'nothing'} m/min)"
    missing = "" if times >= rules.times else f"run {wanted}, holding at each speed"
    return ProtocolItem("rounds", wanted, found, missing)


def _holds(segments: Sequence[Segment], rules: AcceptanceRules) -> ProtocolItem:
    held = [s for s in segments if _level(s, rules)]
    times = [s.end_s - s.start_s for s in held if s.end_s is not None and s.start_s is not None]
    wanted = f"{rules.hold_s:.0f} s each"
    if not held or len(times) < len(held):
        found = "no time known" if held else "no such hold"
        hold = f"hold each speed for {rules.hold_s:.0f} s"
        missing = "record the time of every frame" if held else hold
        return ProtocolItem("holds", wanted, found, missing)
    # A frame's pitch is lost at the ends of a run; a fiftieth is no reason to run it again.
    short = [t for t in times if t < 0.98 * rules.hold_s]
    found = f"shortest {min(times):.0f} s"
    missing = f"hold each speed for {rules.hold_s:.0f} s; {len(short)} were shorter"
    return ProtocolItem("holds", wanted, found, missing if short else "")


def _rates(segments: Sequence[Segment], rules: AcceptanceRules) -> ProtocolItem:
    rates = [abs(rate) for s in segments if s.phase in RAMPS and (rate := ramp_rate(s))]
    lost = [
        wanted
        for wanted in rules.rates_m_s2
        if not any(abs(rate - wanted) <= NEAR_RATE * wanted for rate in rates)
    ]
    wanted = _listed(rules.rates_m_s2)
    found = _listed(sorted(rates, reverse=True)) if rates else "no ramp of known rate"
    change = (rules.fast_m_min - rules.slow_m_min) / 60.0
    took = ", ".join(f"{change / rate:.0f} s" for rate in lost)
    missing = f"ramp at {_listed(lost)} m/s2 too: {rules.fast_m_min:g} to {rules.slow_m_min:g}"
    missing += f" m/min in {took}"
    return ProtocolItem("ramp rates", f"{wanted} m/s2", found, missing if lost else "")


def _listed(numbers: Sequence[float]) -> str:
    return ", ".join(f"{number:.3g}" for number in numbers)


def _hold_frames(drift: Drift, rules: AcceptanceRules) -> ProtocolItem:
    numbers = [s.number for s in drift.segments if _level(s, rules)]
    fewest, who = _fewest(
        (sum(v.frames for v in t.levels if v.segment == number and not v.doubtful), t)
        for number in numbers
        for t in drift.tracks
    )
    return _frames("frames in each hold", rules.frames_in_hold, fewest, who)


def _ramp_frames(drift: Drift, rules: AcceptanceRules) -> ProtocolItem:
    """Frames of a ramp as the camera took them, those of lost marks left out evenly."""
    ramps = [s for s in drift.segments if s.phase in RAMPS]
    fewest, who = _fewest(
        (round((s.last_frame - s.first_frame + 1) * _share_ok(t)), t)
        for s in ramps
        for t in drift.tracks
    )
    return _frames("frames in each ramp", rules.frames_in_ramp, fewest, who)


def _share_ok(track: Track) -> float:
    frames = track.frames_ok + track.frames_doubtful + track.frames_missing
    return track.frames_ok / frames if frames else 0.0


def _fewest(counts: Iterable[tuple[int, Track]]) -> tuple[int, Track | None]:
    best: tuple[int, Track | None] = (0, None)
    for count, track in counts:
        if best[1] is None or count < best[0]:
            best = count, track
    return best


def _frames(what: str, least: int, fewest: int, who: Track | None) -> ProtocolItem:
    wanted = f"{least} good ones of every colour"
    if who is None:
        return ProtocolItem(what, wanted, "none", f"run {what.split()[-1]}s with {wanted}")
    found = f"fewest {fewest} (station {who.station} {who.ink}, {who.axis})"
    missing = f"take more frames: at least {least} good ones in each {what.split()[-1]}"
    return ProtocolItem(what, wanted, found, missing if fewest < least else "")
