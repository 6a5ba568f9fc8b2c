"""Figures: all rows of a family summed up, and held against what is wanted."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from bench.families.case import Family
from bench.families.judged import Answer, Judged, Row
from bench.families.limits import (
    COVERAGE,
    ENOUGH_VALUES,
    LIMITS,
    TIMES_SEPARATED,
    VISIBLE,
    WRONG_MM,
)

_COVER = 1.959964  # sd on either side for 95 %


@dataclass(frozen=True, slots=True)
class Figures:
    """One family's line.

    marks, whole        drawn; of them whole and visible by at least VISIBLE.
    found               of the whole and visible: with a place within WRONG_MM.
    ok                  of the whole and visible: called ok.
    missing, misplaced  of all: no place; doubtful and further than WRONG_MM off.
    wrong               of all: ok, as a mark or as an offset, and further than WRONG_MM off.
    rms_um, rms_px, p99_um     of the found, whole and visible; per axis.
    ideal_um, times_ideal      the ideal fit's rms on the same marks, and regscan's over it.
    times_ideal_sd             standard error of that, from how it varies between frames.
    times_ideal_ok             the same of those of them that were called ok.
    plain_found, plain_wrong   of the plain script, like the above.
    plain_um, beside_plain     its rms and regscan's over the plain's, on marks both found.
    coverage, offset_coverage  share of ok marks' (offsets') errors within 1.96 claimed sd.
    ms, plain_ms        median per frame, one core; first_ms at first sight of it.
    times_clean         ms over that of separated clean frames measured in turns with these; NaN
                        where the time is not limited.
    reasons             why seen marks were doubted or missing, and how often.
    fell                frames on which measuring raised an error, and which.
    missed              the limits not kept, in words.
    """

    name: str
    group: str
    frames: int
    marks: int
    whole: int
    found: int
    ok: int
    missing: int
    misplaced: int
    wrong: int
    rms_um: float
    rms_px: float
    p99_um: float
    ideal_um: float
    times_ideal: float
    times_ideal_sd: float
    times_ideal_ok: float
    plain_found: int
    plain_wrong: int
    plain_um: float
    beside_plain: float
    coverage: float
    coverage_values: int
    offset_coverage: float
    ms: float
    first_ms: float
    plain_ms: float
    times_clean: float = math.nan
    reasons: dict[str, int] = field(default_factory=dict)
    fell: tuple[str, ...] = ()
    missed: tuple[str, ...] = ()


def figures_of(family: Family, frames: Sequence[Judged]) -> Figures:
    """All of a family's frames in one line, limits judged."""
    line = _summed(family, frames)
    return replace(line, missed=missed_limits(line))


def _summed(family: Family, frames: Sequence[Judged]) -> Figures:
    rows = [row for frame in frames for row in frame.rows]
    seen = [row for row in rows if row.whole and row.visible >= VISIBLE]
    found = [row for row in seen if _right(row.regscan, row)]
    both = [row for row in found if _right(row.plain, row)]
    rms_um = _rms([_error_um(row.regscan, row) for row in found])
    fitted = [row for row in found if not math.isnan(row.ideal.row_px)]
    ideal_um = _rms([_error_um(row.ideal, row) for row in fitted])
    plain_um = _rms([_error_um(row.plain, row) for row in both])
    sure = [row for row in rows if row.regscan.status == "ok"]
    coverage, values = _coverage([_pulls(row) for row in sure])
    offset_rows = [row for row in rows if row.offset.status == "ok"]
    offset_coverage, _ = _coverage([_offset_pulls(row) for row in offset_rows])
    return Figures(
        name=family.name,
        group=family.group,
        frames=len(frames),
        marks=len(rows),
        whole=len(seen),
        found=len(found),
        ok=sum(row.regscan.status == "ok" for row in seen),
        missing=sum(row.regscan.status == "missing" for row in rows),
        misplaced=sum(
            row.regscan.status == "doubtful" and not _right(row.regscan, row) for row in rows
        ),
        wrong=sum(_wrong(row) for row in rows),
        rms_um=rms_um,
        rms_px=_rms([_error_px(row.regscan) for row in found]),
        p99_um=_p99([_error_um(row.regscan, row) for row in found]),
        ideal_um=ideal_um,
        times_ideal=_times_ideal(fitted),
        times_ideal_sd=_times_ideal_sd(fitted),
        times_ideal_ok=_times_ideal([row for row in fitted if row.regscan.status == "ok"]),
        plain_found=sum(_right(row.plain, row) for row in seen),
        plain_wrong=sum(row.plain.status == "ok" and not _right(row.plain, row) for row in rows),
        plain_um=plain_um,
        beside_plain=_rms([_error_um(row.regscan, row) for row in both]) / plain_um,
        coverage=coverage,
        coverage_values=values,
        offset_coverage=offset_coverage,
        ms=float(np.median([frame.regscan_ms for frame in frames])),
        first_ms=float(np.median([frame.first_ms for frame in frames])),
        plain_ms=float(np.median([frame.plain_ms for frame in frames])),
        times_clean=float(
            np.median([frame.regscan_ms for frame in frames])
            / np.median([frame.clean_ms for frame in frames])
        ),
        reasons=_reasons(seen),
        fell=tuple(frame.fell for frame in frames if frame.fell),
    )


def _error_px(answer: Answer) -> tuple[float, float]:
    return answer.row_px, answer.col_px


def _error_um(answer: Answer, row: Row) -> tuple[float, float]:
    size = 1000.0 * row.mm_per_px
    return answer.row_px * size, answer.col_px * size


def _right(answer: Answer, row: Row) -> bool:
    """Has a place, and it is within WRONG_MM of the truth."""
    return math.hypot(answer.row_px, answer.col_px) * row.mm_per_px <= WRONG_MM


def _wrong(row: Row) -> bool:
    """Believed and yet wrong: as a mark, or as an offset."""
    mark = row.regscan.status == "ok" and not _right(row.regscan, row)
    off_mm = math.hypot(row.offset.circumferential_mm, row.offset.lateral_mm)
    return mark or (row.offset.status == "ok" and not off_mm <= WRONG_MM)


def _pulls(row: Row) -> tuple[float, float]:
    one = row.regscan
    return one.row_px / one.row_sd_px, one.col_px / one.col_sd_px


def _offset_pulls(row: Row) -> tuple[float, float]:
    one = row.offset
    return (
        one.circumferential_mm / one.circumferential_sd_mm,
        one.lateral_mm / one.lateral_sd_mm,
    )


def _coverage(pulls: Sequence[tuple[float, float]]) -> tuple[float, int]:
    values = np.abs(np.array(pulls, dtype=float).ravel())
    return (float((values <= _COVER).mean()) if values.size else math.nan), values.size


def _rms(errors: Sequence[tuple[float, float]]) -> float:
    return float(np.sqrt(np.mean(np.square(errors)))) if errors else math.nan


def _times_ideal(rows: Sequence[Row]) -> float:
    own = _rms([_error_um(row.regscan, row) for row in rows])
    return own / _rms([_error_um(row.ideal, row) for row in rows])


def _times_ideal_sd(rows: Sequence[Row]) -> float:
    """Standard error of the ratio by leaving out one frame after the other (the jackknife); NaN
    of a single frame."""
    frames = sorted({row.frame for row in rows})
    if len(frames) < 2:
        return math.nan
    without = [_times_ideal([row for row in rows if row.frame != frame]) for frame in frames]
    return float(np.std(without)) * math.sqrt(len(frames) - 1)


def _p99(errors: Sequence[tuple[float, float]]) -> float:
    return float(np.percentile(np.abs(errors), 99.0)) if errors else math.nan


def _reasons(rows: Sequence[Row]) -> dict[str, int]:
    told: Counter[str] = Counter()
    for row in rows:
        if row.regscan.status != "ok":
            told[f"{row.regscan.status}: {row.regscan.why or 'not found'}"] += 1
    return dict(told.most_common())


Check = Callable[[Figures], str]


def missed_limits(one: Figures) -> tuple[str, ...]:
    """Every wanted limit that this line does not keep, in words; a NaN keeps none."""
    limits = LIMITS[one.group]
    missed = []
    if one.fell:
        missed.append(f"{len(one.fell)} frames fell ({one.fell[0]})")
    if one.wrong:
        missed.append(f"{one.wrong} ok and wrong")
    if limits.found is not None and not one.found >= limits.found * one.whole:
        missed.append(f"found {_percent(one.found, one.whole)}, wanted {100 * limits.found:.0f} %")
    if limits.times_ideal is not None and not one.times_ideal <= limits.times_ideal:
        missed.append(f"rms {_ratio(one)} x ideal, wanted {limits.times_ideal}")
    if limits.times_ideal is not None and one.beside_plain >= 1.0:
        missed.append(f"rms {one.beside_plain:.2f} x the plain script's")
    if one.coverage_values >= ENOUGH_VALUES and not COVERAGE[0] <= one.coverage <= COVERAGE[1]:
        missed.append(f"coverage {100 * one.coverage:.1f} %, wanted 92-98")
    if limits.sure is not None and not one.ok >= limits.sure * one.whole:
        missed.append(f"sure of {_percent(one.ok, one.whole)} only (the bench's own limit, 95)")
    if limits.quick and not one.times_clean <= TIMES_SEPARATED:
        missed.append(f"{one.times_clean:.2f} x a separated clean frame's time, wanted 3")
    return tuple(missed)


def _ratio(one: Figures) -> str:
    surely = "" if math.isnan(one.times_ideal_sd) else f" +- {one.times_ideal_sd:.2f}"
    return f"{one.times_ideal:.2f}{surely}"


def _percent(part: int, whole: int) -> str:
    return f"{100.0 * part / max(whole, 1):.1f} %"
