"""A finding in a sentence that a press engineer would sign: who, how much, which way, how sure."""

from collections.abc import Callable

from regscan.drift.behaviour import Finding
from regscan.drift.causes.conditions import MINUTE_S, setting
from regscan.drift.causes.readings import Reading
from regscan.job.job import Job

TOWARD = {
    "circumferential": ("later", "earlier"),
    "lateral": ("toward the drive side", "toward the operator side"),
    "skew": ("later at the drive side", "earlier at the drive side"),
    "width": ("wider", "narrower"),
}
WHERE = {
    "circumferential": "",
    "lateral": ", sideways",
    "skew": ", in skew (one end of the cylinder against the other)",
    "width": ", in width",
}
WITHOUT_A_WAY = (
    "period in metres",
    "period in seconds",
    "turn of the roll",
    "blip",
    "round the repeat",
    "passing strain",
)
"""Kinds whose words do not say along which axis."""


def sentence_of(reading: Reading, job: Job) -> str:
    """The sentence, with its subject and a full stop."""
    finding = reading.finding
    said = SAID.get(finding.kind, _moved)(finding)
    where = WHERE[finding.channel] if finding.kind in WITHOUT_A_WAY else ""
    return f"{_subject(reading, job)} {said}{where}."


def _subject(reading: Reading, job: Job) -> str:
    inks = {s.number: s.ink for s in job.press.stations}
    station = reading.station
    if station is None:
        return _whole(reading.pattern)
    named = f"station {station} ({inks.get(station, '')})"
    if reading.pattern == "one":
        reference = inks.get(station) == job.reference
        return f"The reference itself, {named}," if reference else named.capitalize()
    if reading.pattern in ("stair", "span", "drum", "each", "fan from", "roller"):
        return f"From {named} on, the print"
    if reading.pattern == "fan to":
        return f"Growing along the press up to {named}, the print"
    if reading.pattern == "twist":
        return f"Most near {named} and less along the press, the print"
    return named.capitalize()


def _whole(pattern: str) -> str:
    if pattern in ("fan", "spans", "drums", "growing", "rollers"):
        return "Growing along the press, the print"
    if pattern == "channel":
        return "All colours seen in one channel of the camera, the print"
    if pattern == "place":
        return "By the place of its mark in the frame, every colour"
    return "All along the press, the print"


def _way(finding: Finding, value: float) -> str:
    more, less = TOWARD[finding.channel]
    return more if value >= 0.0 else less


def _by(finding: Finding) -> str:
    return f"{finding.term.moves_mm:.3f} mm"


def _speed(finding: Finding) -> str:
    size = finding.term.size
    slow = "at low speed than at high" if size.value < 0 else "at high speed than at low"
    more = TOWARD[finding.channel][0]
    return (
        f"lies {_by(finding)} {more} {slow}, the same way down and up, no lag: proportional to "
        f"speed ({1000 * size.value:+.2f} ±{1000 * size.sd:.2f} um per m/min)"
    )


def _above(finding: Finding) -> str:
    onset = setting(finding, "onset_m_min") or 0.0
    way = _way(finding, finding.term.size.value)
    return f"moves {way} only above {onset:.0f} m/min, by {_by(finding)} at full speed"


def _seen(finding: Finding) -> str:
    way = _way(finding, finding.term.size.value)
    return (
        f"seems to move {way} with speed, by {_by(finding)}, with the speed at the moment of the "
        "frame and not of printing"
    )


def _acceleration(finding: Finding) -> str:
    way = _way(finding, finding.term.size.value)
    return (
        f"moves {way} while the web gains speed and back while it slows, by {_by(finding)} from "
        "one to the other, in proportion to the rate of the ramp"
    )


def _levels(finding: Finding) -> str:
    size = finding.term.size
    when = (
        "while the web slows down"
        if setting(finding, "only_in_ramps")
        else ("from a slow-down until the web gains speed again")
    )
    return (
        f"takes two levels {abs(size.value):.3f} mm apart (±{size.sd:.3f} mm): "
        f"{_way(finding, size.value)} {when}"
    )


def _warm_up(finding: Finding) -> str:
    tau, low, high = _minutes(finding)
    way = _way(finding, finding.term.size.value)
    return (
        f"creeps {way} by {_by(finding)} with a time constant of {tau:.1f} minutes "
        f"({max(low, 0.0):.1f} to {high:.1f}), at every speed: warming"
    )


def _minutes(finding: Finding) -> tuple[float, float, float]:
    for one in finding.term.settings:
        if one.name == "tau_s":
            e = one.estimate
            return e.value / MINUTE_S, e.low / MINUTE_S, e.high / MINUTE_S
    return 0.0, 0.0, 0.0


def _dose(finding: Finding) -> str:
    way = _way(finding, finding.term.size.value)
    warm = "" if setting(finding, "tau_s") is None else ", and creeps there as it warms up"
    return f"lies {way} the slower the web runs, by {_by(finding)}{warm}: a dose"


def _drift(finding: Finding) -> str:
    size = finding.term.size
    return f"creeps {_way(finding, size.value)} one way along the run, by {_by(finding)}"


def _step(finding: Finding) -> str:
    size = finding.term.size
    return (
        f"jumps {abs(size.value):.3f} mm (±{size.sd:.3f} mm) {_way(finding, size.value)}"
        f"{_at(finding)} and stays there"
    )


def _at(finding: Finding) -> str:
    at = setting(finding, "at_m")
    return "" if at is None else f" at {at:.0f} m"


def _passing(finding: Finding) -> str:
    size = finding.term.size
    what = f"{size.value:+.0f} ppm" if size.sd else "a step"
    if finding.channel == "lateral":
        what = f"{abs(size.value):.3f} mm {_way(finding, size.value)}"
        return f"is hit{_at(finding)} as the web comes in {what}, and settles within metres"
    if finding.term.unit != "ppm":
        return f"is moved by up to {_by(finding)} at the corners of the ramps, and settles"
    return (
        f"moves by up to {_by(finding)}{_at(finding)}, later from station to station, and settles "
        f"within metres: the web's strain changed by {what}"
    )


def _blip(finding: Finding) -> str:
    return f"is hit{_at(finding)}, each station by its own amount, and is back within metres"


def _wave(finding: Finding) -> str:
    length = setting(finding, "wavelength_m") or 0.0
    return (
        f"swings by ±{finding.term.moves_mm / 2:.3f} mm with a visible wavelength of "
        f"{length:.2f} m at every speed"
    )


def _swing(finding: Finding) -> str:
    period = setting(finding, "period_s") or 0.0
    return f"swings by ±{finding.term.moves_mm / 2:.3f} mm every {period:.1f} s at every speed"


def _roll(finding: Finding) -> str:
    diameter = setting(finding, "diameter_m") or 0.0
    return (
        f"swings by ±{finding.term.moves_mm / 2:.3f} mm once per turn of the supply roll "
        f"({diameter:.2f} m at the start)"
    )


def _round(finding: Finding) -> str:
    return f"runs by {_by(finding)} round the repeat, the same at every turn"


def _moved(finding: Finding) -> str:
    return f"moves by {_by(finding)}"


SAID: dict[str, Callable[[Finding], str]] = {
    "speed": _speed,
    "speed above": _above,
    "speed at the camera": _seen,
    "acceleration": _acceleration,
    "two levels": _levels,
    "warm-up": _warm_up,
    "dose": _dose,
    "drift": _drift,
    "step": _step,
    "passing strain": _passing,
    "passing shift": _passing,
    "blip": _blip,
    "period in metres": _wave,
    "period in seconds": _swing,
    "turn of the roll": _roll,
    "round the repeat": _round,
}
