"""A lesson: the frames of an approved sheet, read as often as it takes to learn from them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import BadFrames, BadJob, Problem
from regscan.instrument.approved import FrameMarks
from regscan.instrument.by_layout import read_by_layout, too_close
from regscan.instrument.pure_colour import FrameColours, Spot, pure_colours
from regscan.instrument.taught import Found
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.marks.finder import MarkFinder
from regscan.marks.flags import MarkFlag
from regscan.marks.mark import Mark
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.sources import FrameSource, read_frame

ENOUGH = 0.5  # share of the frames in which a mark must be found
_USELESS = MarkFlag.CLIPPED | MarkFlag.NO_FIT
_NEAR_VAR_PX2 = 9.0  # a mark's place is known well enough to read its colour
_EDGE_PX = (0.5, 3.0)  # softness that is believed when colours are read
_UNBELIEVED = _USELESS | MarkFlag.INK_UNSURE


Progress = Callable[[int, int], None]  # (readings done, readings in all)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is taught from: frames of the approved sheet, the job, the cameras by name."""

    sources: Sequence[FrameSource]
    job: Job
    cameras: Mapping[str, Camera]
    folder: str


@dataclass(frozen=True, slots=True)
class Seen:
    """One frame: its marks and its colours."""

    frame: FrameMarks
    colours: FrameColours


class Lesson:
    """Reads the frames as often as it takes; keeps none of them in memory."""

    def __init__(self, sheet: Sheet, progress: Progress) -> None:
        self.sheet, self.progress = sheet, progress
        self.remarks: list[str] = []
        self._unreadable: set[str] = set()

    def check_inks_shown(self) -> None:
        """Refuse frames whose cameras cannot see every ink."""
        job, seen = self.sheet.job, set[str]()
        for source in self.sheet.sources:
            seen |= {mark.ink for mark in self._designs(source.info)}
        lacking = [i.name for i in job.inks if i.measurable and i.name not in seen]
        if lacking:
            what = f"their cameras see no mark of {', '.join(lacking)}"
            cure = "add frames of a camera after the station that prints it"
            raise BadFrames(self.sheet.folder, Problem("", what, cure))

    def first_look(self) -> tuple[list[Seen], Found]:
        """Every frame that can be read, and how its marks were told apart."""
        job, why = self.sheet.job, ""
        if not without_colour(job):
            seen = self.measured(job, 1)
            lost = _lost(seen, self._expected())
            if not lost:
                return seen, "by the job's colours"
            why = f"with the job's colours {', '.join(lost)} could not be found"
            self.remarks.append(f"{why}; the marks were told apart by layout and shape")
        return self._by_layout(why), "by layout and shape"

    def measured(self, job: Job, reading: int) -> list[Seen]:
        """Every usable frame, its marks found with that job's colours."""
        finders: dict[tuple[str, str], MarkFinder] = {}
        seen = []
        for number, frame in self._frames():
            info, camera = frame.info, self.sheet.cameras[frame.info.camera]
            key = info.camera, info.edge
            if key not in finders:
                finders[key] = MarkFinder(job, camera, camera_name=info.camera, edge=info.edge)
            marks = finders[key].measure(frame)
            spots = _spots(marks, finders[key].designs)
            colours = pure_colours(frame, camera, spots)
            seen.append(Seen(FrameMarks(info, tuple(marks), colours.shapes), colours))
            done = (reading - 1) * len(self.sheet.sources) + number
            self.progress(done, 2 * len(self.sheet.sources))
        return seen

    def _by_layout(self, why: str) -> list[Seen]:
        self._check_apart(why)
        seen, reasons = [], []
        for _, frame in self._frames():
            info, camera = frame.info, self.sheet.cameras[frame.info.camera]
            reading = read_by_layout(frame, camera, self._designs(info))
            if not reading.spots:
                reasons.append(Problem(info.name, reading.why, "leave this frame out"))
                continue
            marks = tuple(Mark(s.design.ink, s.design.edge, "ok") for s in reading.spots)
            colours = pure_colours(frame, camera, reading.spots)
            seen.append(Seen(FrameMarks(info, marks, colours.shapes), colours))
        if len(seen) < max(1.0, ENOUGH * (len(seen) + len(reasons))):
            raise BadFrames(self.sheet.folder, [*_known(why), *_told_once(reasons)])
        self.remarks += [f"{reason.place}: {reason.what}" for reason in reasons]
        return seen

    def _check_apart(self, why: str) -> None:
        """Layout tells marks apart only where they stand clear of each other."""
        pairs = dict.fromkeys(
            pair
            for source in self.sheet.sources
            for pair in too_close(
                self._designs(source.info), self.sheet.cameras[source.info.camera]
            )
        )
        inks = ", ".join(dict.fromkeys(ink for pair in pairs for ink in pair))
        if pairs:
            what = (
                f"those of {inks} lie on or against each other by design, and without their"
                " colours nothing tells one from the other"
            )
            cure = "give these inks as lab or srgb, near enough to tell them apart"
            where = self.sheet.job.path or self.sheet.job.name
            raise BadJob(where, [*_known(why), Problem("marks", what, cure)])

    def _frames(self) -> Iterator[tuple[int, Frame]]:
        """(number from 1, frame) of all that can be read. Raises BadFrames when none can."""
        bad = []
        for number, source in enumerate(self.sheet.sources, start=1):
            try:
                frame = read_frame(source)
            except BadFrames as fault:
                bad.append(fault.problems[0])
                self._note_unreadable(source.info.name, fault.problems[0])
                continue
            yield number, frame
        if len(bad) == len(self.sheet.sources):
            raise BadFrames(self.sheet.folder, bad[:12])

    def _note_unreadable(self, name: str, problem: Problem) -> None:
        if name not in self._unreadable:
            self._unreadable.add(name)
            self.remarks.append(f"{name} was not used: {problem.what}")

    def _designs(self, info: FrameInfo) -> tuple[MarkDesign, ...]:
        job = self.sheet.job
        marks = job.marks_seen(info.camera, info.edge)
        return tuple(mark for mark in marks if job.ink(mark.ink).measurable)

    def _expected(self) -> set[str]:
        return {mark.ink for s in self.sheet.sources for mark in self._designs(s.info)}


def without_colour(job: Job) -> list[str]:
    """What the job has no colour for yet: the substrate, or inks that can be seen."""
    wanted = [("substrate", job.substrate)]
    wanted += [(ink.name, ink.colour) for ink in job.inks if ink.measurable and ink.colour]
    return [name for name, colour in wanted if colour.values is None]


def _known(why: str) -> list[Problem]:
    if not why:
        return []
    return [Problem("", why, "check the inks' colours in the job and the camera's tone")]


def _told_once(reasons: Sequence[Problem]) -> list[Problem]:
    """Each reason with the first frame it was met in, and how many more there are."""
    by_reason: dict[str, list[Problem]] = {}
    for reason in reasons:
        by_reason.setdefault(reason.what, []).append(reason)
    return [
        Problem(
            some[0].place + (f" and {len(some) - 1} more" if len(some) > 1 else ""),
            what,
            "check in the job that this ink is printed, its mark's shape and its place; or"
            " leave these frames out",
        )
        for what, some in by_reason.items()
    ]


def _spots(marks: Sequence[Mark], designs: Sequence[MarkDesign]) -> list[Spot]:
    """The marks whose place is good enough to read a colour from."""
    return [
        Spot(design, mark.row_px, mark.col_px, float(np.clip(mark.edge_px, *_EDGE_PX)))
        for mark, design in zip(marks, designs, strict=True)
        if mark.status != "missing"
        and not mark.flags & _USELESS
        and max(mark.row_var, mark.col_var) < _NEAR_VAR_PX2
    ]


def _lost(seen: Sequence[Seen], expected: set[str]) -> list[str]:
    """Inks not found, or not believed to be that ink, in enough frames."""
    counts = dict.fromkeys(sorted(expected), 0)
    shown = dict.fromkeys(counts, 0)
    for one in seen:
        for mark in one.frame.marks:
            shown[mark.ink] += 1
            counts[mark.ink] += mark.status != "missing" and not mark.flags & _UNBELIEVED
    return [ink for ink in counts if counts[ink] < max(1.0, ENOUGH * shown[ink])]
