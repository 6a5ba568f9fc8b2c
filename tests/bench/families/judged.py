"""Judged: one frame drawn, measured three ways, and every mark held against its truth."""

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from bench.families.case import Case, Family
from bench.families.ideal import Place
from bench.families.known import Known, known_of
from bench.families.limits import LIMITS
from bench.families.separated import CLEAN
from regscan.marks.finder import MarkFinder
from regscan.marks.flags import describe
from regscan.marks.mark import Mark
from regscan.offsets.measure import measure_offsets
from regscan.recording.frame import Frame
from regscan.simulator.draw import draw_frame
from regscan.simulator.truth import FrameTruth, TrueMark


@dataclass(frozen=True, slots=True)
class Answer:
    """What one method says of one mark: error in px (NaN: no place), its claimed sd, status."""

    row_px: float = math.nan
    col_px: float = math.nan
    row_sd_px: float = math.nan
    col_sd_px: float = math.nan
    status: str = "missing"
    why: str = ""


@dataclass(frozen=True, slots=True)
class OffsetAnswer:
    """Error in mm of a colour's offset against the reference, with claimed sd and status."""

    circumferential_mm: float = math.nan
    lateral_mm: float = math.nan
    circumferential_sd_mm: float = math.nan
    lateral_sd_mm: float = math.nan
    status: str = "missing"


@dataclass(frozen=True, slots=True)
class Row:
    """One drawn mark of one frame; visible and whole as in `visible.Sight`."""

    family: str
    frame: int
    ink: str
    visible: float
    whole: bool
    mm_per_px: float
    regscan: Answer
    offset: OffsetAnswer
    plain: Answer
    ideal: Answer


@dataclass(frozen=True, slots=True)
class Judged:
    """All marks of one frame, and how long the two measurers took, ms of one core.

    first_ms   at first sight of a frame like this; regscan_ms   once more.
    clean_ms   regscan on a frame of separated clean marks, right afterwards: the two are as fast as
               the machine then is. NaN where no limit asks for it.
    fell       what regscan raised where it should have measured; "" for nothing.
    """

    rows: tuple[Row, ...]
    regscan_ms: float
    first_ms: float
    plain_ms: float
    clean_ms: float = math.nan
    fell: str = ""


def judged(family: Family, number: int, keep: Path | None = None) -> Judged:
    """One frame of a family, judged. `keep`: folder for what measuring has no part in."""
    case = family.case(number)
    scene = case.scene
    frame, truth = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    finder = _finder(case)
    marks, first_ms, fell = _measured(finder, frame)
    # What is made once for a camera's look is not a frame's time; here each frame has its own.
    _, took_ms, _ = _measured(finder, frame)
    clean_ms = _clean_ms(number) if LIMITS[family.group].quick else math.nan
    known = known_of(family.name, case, frame, keep)
    own = {mark.ink: mark for mark in marks}
    offsets = _offset_answers(case, marks, truth)
    rows = tuple(
        Row(
            family=family.name,
            frame=number,
            ink=mark.ink,
            visible=known.sights[k].share,
            whole=known.sights[k].whole,
            mm_per_px=scene.camera.mm_per_px,
            regscan=_regscan_answer(own.get(mark.ink), mark),
            offset=offsets.get(mark.ink, OffsetAnswer()),
            plain=_plain_answer(known, mark),
            ideal=_ideal_answer(known.ideal[k], mark),
        )
        for k, mark in enumerate(truth.marks)
    )
    rows += _unprinted_rows(family, number, case, marks, offsets, known)
    return Judged(rows, took_ms, first_ms, known.plain_ms, clean_ms, fell)


def _unprinted_rows(
    family: Family,
    number: int,
    case: Case,
    marks: Sequence[Mark],
    offsets: Mapping[str, OffsetAnswer],
    known: Known,
) -> tuple[Row, ...]:
    """Rows of marks that are told of and not printed: any place of theirs is endlessly far off."""
    printed = {mark.ink for mark in case.scene.job.marks}
    return tuple(
        Row(
            family=family.name,
            frame=number,
            ink=mark.ink,
            visible=0.0,
            whole=False,
            mm_per_px=case.scene.camera.mm_per_px,
            regscan=_of_nothing(mark),
            offset=offsets.get(mark.ink, OffsetAnswer()),
            plain=Answer(math.inf, math.inf, status="ok") if mark.ink in known.plain else Answer(),
            ideal=Answer(),
        )
        for mark in marks
        if mark.ink not in printed
    )


def _of_nothing(mark: Mark) -> Answer:
    if mark.status == "missing":
        return Answer()
    sd = math.sqrt(mark.row_var), math.sqrt(mark.col_var)
    return Answer(math.inf, math.inf, *sd, mark.status, describe(mark.flags))


_FINDERS: list[tuple[Case, MarkFinder]] = []


def _finder(case: Case) -> MarkFinder:
    """One finder for all frames of a press: what it makes once is not a frame's time."""
    for other, finder in _FINDERS:
        if other.told == case.told and other.scene.camera == case.scene.camera:
            return finder
    finder = MarkFinder(case.told, case.scene.camera)
    _FINDERS.append((case, finder))
    return finder


@lru_cache(maxsize=4)
def _clean(number: int) -> tuple[MarkFinder, Frame]:
    case = CLEAN.case(number)
    scene = case.scene
    frame, _ = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    return _finder(case), frame


def _clean_ms(number: int) -> float:
    """Time of a separated clean frame, at second sight as every frame's."""
    finder, frame = _clean(number % 4)
    _measured(finder, frame)
    _, took_ms, _ = _measured(finder, frame)
    return took_ms


def _measured(finder: MarkFinder, frame: Frame) -> tuple[list[Mark], float, str]:
    start = time.process_time()
    marks, fell = [], ""
    try:
        marks = finder.measure(frame)
    except Exception as fault:  # a bench tells of a fall and goes on
        fell = f"frame {frame.info.index}: {type(fault).__name__}: {fault}"
    return marks, 1000.0 * (time.process_time() - start), fell


def _regscan_answer(mark: Mark | None, true: TrueMark) -> Answer:
    if mark is None:
        return Answer()
    sd = math.sqrt(mark.row_var), math.sqrt(mark.col_var)
    error = mark.row_px - true.row_px, mark.col_px - true.col_px
    return Answer(*error, *sd, mark.status, describe(mark.flags))


def _plain_answer(known: Known, true: TrueMark) -> Answer:
    place = known.plain.get(true.ink)
    if place is None:
        return Answer()
    return Answer(place[0] - true.row_px, place[1] - true.col_px, status="ok")


def _ideal_answer(place: Place, true: TrueMark) -> Answer:
    if math.isnan(place.row_px):
        return Answer()
    error = place.row_px - true.row_px, place.col_px - true.col_px
    return Answer(*error, place.row_sd_px, place.col_sd_px, "ok")


def _offset_answers(case: Case, marks: list[Mark], truth: FrameTruth) -> dict[str, OffsetAnswer]:
    found = {}
    for offset in measure_offsets(marks, case.told, case.scene.camera):
        if all(mark.ink != offset.ink for mark in truth.marks):
            if offset.status != "missing":
                found[offset.ink] = OffsetAnswer(math.inf, math.inf, status=offset.status)
            continue
        true = truth.against(offset.ink, case.told.reference)
        if offset.ink != case.told.reference:
            found[offset.ink] = OffsetAnswer(
                offset.circumferential_mm - true.circumferential_mm,
                offset.lateral_mm - true.lateral_mm,
                offset.circumferential_sd_mm,
                offset.lateral_sd_mm,
                offset.status,
            )
    return found
