"""Why a station needs attention, in plain sentences with numbers."""

from dataclasses import dataclass

from regscan.drift.drift import Change, Level, Stretch, furthest_out
from regscan.drift.series import Series
from regscan.drift.words import at_speed, counted, lies, side_of

CHANGE_SHARE = 0.25
"""A significant change between holds flags a station from this share of the tolerance on."""
LOST_SHARE = 0.1
"""A colour missing from more than this share of the frames (and from two at least) is flagged."""
DOUBT_SHARE = 0.5
"""As is one that was doubtful in more than this share of them."""


@dataclass(frozen=True, slots=True)
class Findings:
    """What was found of one series; `settled` is None when there is no level."""

    levels: tuple[Level, ...]
    changes: tuple[Change, ...]
    stretches: tuple[Stretch, ...]
    settled: Level | None


def find_reasons(series: Series, found: Findings) -> tuple[str, ...]:
    """Sentences, worst first; none for a station that behaves. Each starts with a verb,
    its subject being the colour: "prints 0.112 mm late at 50 m/min, ..."."""
    sentences = [
        _lost(series),
        _level_outside(series, found),
        _web_outside(series, found.stretches),
        _change(series, found),
        _doubtful(series),
    ]
    return tuple(sentence for sentence in sentences if sentence)


def _lost(series: Series) -> str:
    frames = len(series.frame)
    missing = frames - int(series.ok.sum()) - int(series.doubtful.sum())
    if frames and missing == frames:
        return "was not found in any frame"
    if missing >= 2 and missing > LOST_SHARE * frames:
        return f"was not found in {missing} of {frames} frames"
    return ""


def _doubtful(series: Series) -> str:
    frames, doubtful = len(series.frame), int(series.doubtful.sum())
    if doubtful <= DOUBT_SHARE * frames:
        return ""
    return f"was doubtful in {doubtful} of {frames} frames"


def _level_outside(series: Series, found: Findings) -> str:
    """The hold that lies furthest outside; the settled one when that is outside too."""
    outside = [v for v in found.levels if abs(v.mean_mm) > series.tolerance_mm]
    if not outside:
        return ""
    worst = max(outside, key=lambda v: abs(v.mean_mm))
    level = found.settled if found.settled in outside and found.settled else worst
    over = abs(level.mean_mm) - series.tolerance_mm
    where = f"prints {lies(series.axis, level.mean_mm, level.sd_mm)}{at_speed(level.speed_m_min)}"
    return f"{where}, {over:.3f} mm over the tolerance"


def _web_outside(series: Series, stretches: tuple[Stretch, ...]) -> str:
    if not stretches:
        return ""
    worst = furthest_out(stretches)
    metres = [s.metres for s in stretches]
    known = [m for m in metres if m is not None]
    amount = counted(sum(s.frames for s in stretches), "frame")
    if len(known) == len(metres):
        amount = f"{sum(known):.1f} m of web"
    where = counted(len(stretches), "stretch")
    left = worst.left_at_speed_m_min
    leaving = "" if left is None else f", having left{at_speed(left)}"
    furthest = f"at worst {lies(series.axis, worst.worst_mm, worst.worst_sd_mm)}"
    return f"was outside tolerance for {amount} in {where}, {furthest}{leaving}"


def _change(series: Series, found: Findings) -> str:
    """The largest change between two holds that is both sure and large enough to matter."""
    matter = [
        c
        for c in found.changes
        if c.significant and abs(c.change_mm) > CHANGE_SHARE * series.tolerance_mm
    ]
    if not matter:
        return ""
    change = max(matter, key=lambda c: abs(c.change_mm))
    speeds = {level.segment: level.speed_m_min for level in found.levels}
    before, after = speeds[change.from_segment], speeds[change.to_segment]
    doubt = f" (±{change.sd_mm:.3f} mm)" if change.sd_mm is not None else ""
    moved = f"moves {abs(change.change_mm):.3f} mm {_toward(series, change.change_mm)}{doubt}"
    if before is None or after is None:
        return f"{moved} from one hold to the next"
    return f"{moved} from the hold at {before:.0f} to the hold at {after:.0f} m/min"


def _toward(series: Series, change_mm: float) -> str:
    if series.axis == "circumferential":
        return "later" if change_mm > 0 else "earlier"
    return side_of(series.axis, change_mm)
