"""How many good frames are enough to decide, for this tolerance at this noise."""

import math

from regscan.drift.drift import Level
from regscan.job.rules import GateRules
from regscan.verdict.rule import factor, judge, small_sample
from regscan.verdict.views import PRINT_NOISE_MM

MOST = 100_000
SHARES = (0.5, 0.8, 0.9, 0.95)  # of the tolerance, for which it is told before a run
FEWEST_OUT = 2  # good frames that can prove a failure: one alone may be one bad label
CERTAIN = 0.999  # how surely so few frames must lie outside


def frames_enough(
    offset_mm: float, spread_mm: float, limit_mm: float, rules: GateRules, *, worth: float = 1.0,
    fixed_mm: float = 0.0,
) -> int | None:  # fmt: skip
    """Fewest frames that would decide an offset that stays where it is; None where none would.

    spread_mm   one standard deviation of single frames.
    worth       frames that are worth one independent frame (1 for white noise).
    fixed_mm    doubt that no number of frames makes smaller (of the zero).
    """
    if rules.decision != "prove conformity":
        return rules.least_frames
    gap = abs(limit_mm - abs(offset_mm))
    if gap <= factor(rules.confidence) * fixed_mm or gap == 0.0:
        return None
    low, high = rules.least_frames, MOST
    if not _decides(high, gap, spread_mm, rules, worth, fixed_mm):
        return None
    while low < high:
        middle = (low + high) // 2
        if _decides(middle, gap, spread_mm, rules, worth, fixed_mm):
            high = middle
        else:
            low = middle + 1
    return low


def _decides(
    frames: int, gap_mm: float, spread_mm: float, rules: GateRules, worth: float, fixed_mm: float
) -> bool:
    independent = max(frames / worth, 1.0)
    own = spread_mm / math.sqrt(independent) * small_sample(independent - 1.0)
    return factor(rules.confidence) * math.hypot(own, fixed_mm) <= gap_mm


def surely_outside(offset_mm: float, sd_mm: float, limit_mm: float) -> bool:
    """Whether an offset lies so far outside that fewer frames than may pass prove a failure."""
    answer = judge(offset_mm, sd_mm, limit_mm, "prove nonconformity", CERTAIN)
    return answer == "out of tolerance"


def _few_outside(level: Level, limit_mm: float, rules: GateRules) -> int | None:
    """Fewest frames, fewer than may pass, that would prove a failure at the level seen."""
    one = math.hypot(PRINT_NOISE_MM, (level.own_sd_mm or 0.0) * math.sqrt(level.frames))
    for frames in range(FEWEST_OUT, rules.least_frames):
        sd = math.hypot(one / math.sqrt(frames), level.zero_sd_mm)
        if "levels" in rules.rules and surely_outside(level.mean_mm, sd, limit_mm):
            return frames
    return None


def frames_for(level: Level, limit_mm: float, rules: GateRules) -> int | None:
    """The same for a level that was seen, from its own noise.

    Of fewer frames than show noise, a print noise of 0.015 mm is taken as given.
    """
    if few := _few_outside(level, limit_mm, rules):
        return few
    own, spread = level.own_sd_mm, level.spread_mm
    if own is None or not spread or level.frames < rules.least_frames:
        spread, worth = max(spread or 0.0, PRINT_NOISE_MM), 1.0
    else:
        worth = max(level.frames * (own / spread) ** 2, 1.0)
    return frames_enough(
        level.mean_mm, spread, limit_mm, rules, worth=worth, fixed_mm=level.zero_sd_mm
    )


def enough_words(limit_mm: float, noise_mm: float, rules: GateRules) -> str:
    """Before a run: how many frames decide how close to the limit."""
    parts = []
    for share in SHARES:
        count = frames_enough(share * limit_mm, noise_mm, limit_mm, rules)
        said = "no number of frames" if count is None else f"{count} frames"
        parts.append(f"{said} up to {share * limit_mm:.3f} mm")
    return f"tolerance {limit_mm:.3f} mm, single frames ±{noise_mm:.3f} mm: {', '.join(parts)}"
