"""The approved print as zero: offsets count from where it had every mark.

Kept beside the frames of its job, since the job file is not ours to change while it is in
use; every result names it, and its run.json holds the approved places.
"""

import json
import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from regscan.errors import BadTable, Problem
from regscan.job.job import AXES, Job
from regscan.job.layout import Approved, MarkDesign
from regscan.offsets.rows import Row
from regscan.offsets.zero import zero_of
from regscan.watch.refused import Refused
from regscan.wholefile import write_whole

ENOUGH = 5  # frames that must show a mark well, before their mean is a zero
LATEST = 10  # frames at most that are taken for it


@dataclass(frozen=True, slots=True)
class ZeroMark:
    """Where one mark lay on the approved print, off its design place; sds of these means."""

    ink: str
    edge: str
    place: Approved


@dataclass(frozen=True, slots=True)
class Zero:
    """An approved print. first, last: the frames it was taken from; at: when, ISO 8601."""

    marks: tuple[ZeroMark, ...]
    frames: int
    first: str
    last: str
    at: str

    @property
    def words(self) -> str:
        """What offsets count from, in words."""
        return f"the approved print ({self.frames} frames, {self.first} to {self.last})"


def approve(rows: Iterable[Row], job: Job, at: str) -> Zero:
    """The zero that the newest frames tell. rows: of offsets, newest last, as job counts them.

    Raises Refused naming every colour that they do not show well enough.
    """
    good: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row["status"] == "ok":
            good.setdefault((str(row["ink"]), str(row["edge"])), []).append(row)
    marks, lacking, used = [], [], []
    for design in job.marks:
        if design.ink == job.reference or not job.ink(design.ink).measurable:
            continue
        found = _of(good, design)[-LATEST:]
        if len(found) < ENOUGH:
            lacking.append(f"{design.ink} ({len(found)} good frames)")
            continue
        used.append(found)
        before = zero_of(job, design, _reference(job, design.edge))
        marks.append(ZeroMark(design.ink, design.edge, _mean(found, before)))
    if lacking or not used:
        words = ", ".join(lacking) or "no colour was measured"
        raise Refused(
            f"The zero was not approved: {ENOUGH} good frames of every colour are needed; {words}."
        )
    longest = max(used, key=len)
    first, last = str(longest[0]["frame"]), str(longest[-1]["frame"])
    return Zero(tuple(marks), len(longest), first, last, at)


def _of(good: dict[tuple[str, str], list[Row]], design: MarkDesign) -> list[Row]:
    """Rows of one mark; those of both edges where frames name an edge and marks do not."""
    own = good.get((design.ink, design.edge))
    if own is not None or design.edge:
        return own or []
    return [row for (ink, _), rows in good.items() if ink == design.ink for row in rows]


def number_in(row: Row, column: str) -> float:
    """A number of a row; NaN where it is not known."""
    value = row[column]
    return float(value) if isinstance(value, int | float) else math.nan


def _reference(job: Job, edge: str) -> MarkDesign:
    marks = [mark for mark in job.marks if mark.ink == job.reference]
    return next((mark for mark in marks if mark.edge == edge), marks[0])


def _mean(rows: list[Row], before: Approved) -> Approved:
    means, sds = [], []
    for axis in AXES:
        values = [number_in(row, f"{axis}_mm") for row in rows]
        mean = math.fsum(values) / len(values)
        spread = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1))
        means.append(mean)
        sds.append(spread / math.sqrt(len(values)))
    return Approved(
        before.circumferential_mm + means[0], before.lateral_mm + means[1], sds[0], sds[1]
    )


def with_zero(job: Job, zero: Zero | None) -> Job:
    """The job as it counts from the approved print; unchanged without one."""
    if zero is None:
        return job
    places = {(mark.ink, mark.edge): mark.place for mark in zero.marks}
    marks = tuple(
        replace(mark, approved=places.get((mark.ink, mark.edge), Approved(0.0, 0.0)))
        for mark in job.marks
    )
    return replace(job, marks=marks, zero="approved")


def counted_from(rows: Iterable[Row], old: Job, new: Job) -> list[Row]:
    """Rows of offsets that count as `old` does, as `new` does."""
    shifts = {
        (mark.ink, mark.edge): (
            zero_of(old, mark, _reference(old, mark.edge)),
            zero_of(new, other, _reference(new, other.edge)),
        )
        for mark, other in zip(old.marks, new.marks, strict=True)
    }
    changed = []
    for row in rows:
        ink, edge = str(row["ink"]), str(row["edge"])
        shift = shifts.get((ink, edge)) or shifts.get((ink, ""))
        changed.append(_shifted(row, *shift) if shift else row)
    return changed


def _shifted(row: Row, old: Approved, new: Approved) -> Row:
    changed = dict(row)
    for axis in AXES:
        value, sd = number_in(row, f"{axis}_mm"), number_in(row, f"{axis}_sd_mm")
        was, now = getattr(old, f"{axis}_mm"), getattr(new, f"{axis}_mm")
        var = sd**2 - getattr(old, f"{axis}_sd_mm") ** 2 + getattr(new, f"{axis}_sd_mm") ** 2
        changed[f"{axis}_mm"] = value + was - now
        changed[f"{axis}_sd_mm"] = math.sqrt(max(var, 0.0)) if math.isfinite(var) else math.nan
    return changed


def save_zero(zero: Zero, path: Path) -> None:
    """Write it, whole or not at all. Raises BadOutput."""
    write_whole(path, json.dumps(asdict(zero), indent=1, ensure_ascii=False) + "\n")


def load_zero(path: Path) -> Zero | None:
    """The zero that save_zero wrote; None where there is none. Raises BadTable."""
    if not path.exists():
        return None
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        marks = tuple(
            ZeroMark(one["ink"], one["edge"], Approved(**one["place"])) for one in kept["marks"]
        )
        return Zero(marks, kept["frames"], kept["first"], kept["last"], kept["at"])
    except (OSError, ValueError, KeyError, TypeError) as fault:
        cure = "remove it, and approve the print anew"
        raise BadTable(path, Problem("", f"cannot be read ({fault})", cure)) from None
