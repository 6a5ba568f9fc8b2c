"""MarkFinder: every mark of the layout in one frame, with its doubt.

The order of work: view -> candidates -> one joint choice -> a fit per mark, or per
group of marks that touch -> flags. `measure` remembers nothing. `follow` looks only
where the marks of the frame before were, and gives up as soon as one of them is not
found there without doubt: then the whole frame is to be measured.
"""

from collections.abc import Sequence
from dataclasses import replace

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.marks.chosen import Chosen, Seen
from regscan.marks.confused import claimed, told_apart, twins_widened
from regscan.marks.finding.assign import Assignment
from regscan.marks.finding.candidates import Candidate
from regscan.marks.finding.search import FIRST_LOOK, Search
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.others import beside_others, odd_growths
from regscan.marks.judging.quality import DOUBTFUL, not_there, with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.outlined import Outlined, measure_outlined
from regscan.marks.seeing.view import View
from regscan.marks.weighed import weighed
from regscan.recording.frame import Frame

_CLEARLY = 0.2  # of likeness, in all: less says nothing about which reading is right
_ANOTHER_FORM = 0.3  # misfit of what is not the mark, where nothing led to it: damage leaves less
_HARDLY_PLACED = MarkFlag.FAINT | MarkFlag.NO_FIT
_SOFT_TRACE = MarkFlag.FAINT | MarkFlag.SMEARED
_PARTLY = MarkFlag.CROWDED | MarkFlag.MISSHAPEN  # what an outline between other print may be


class MarkFinder:
    """Finds and measures the marks that one camera should see.

    Raises KeyError for a camera the press does not have.
    """

    def __init__(self, job: Job, camera: Camera, *, camera_name: str = "", edge: str = "") -> None:
        self.job, self.camera = job, camera
        self.designs: tuple[MarkDesign, ...] = tuple(
            mark for mark in job.marks_seen(camera_name, edge) if job.ink(mark.ink).measurable
        )
        self._search = Search(job, camera, self.designs)

    def measure(self, frame: Frame) -> list[Mark]:
        """One Mark per design mark, in the layout's order; nothing is raised for a poor frame."""
        search = self._search
        view = search.view(frame.pixels)
        seen = search.seen(view)
        choice = search.choose(view, seen)
        if search.light_may_mislead(view, choice):
            other = search.view(frame.pixels, local=True)
            seen_there = search.seen(other)
            if search.choose(other, seen_there).likeness > choice.likeness:
                view = other
            # Either reading may miss marks that the other shows: some in the streak, some beside.
            better = search.choose(view, search.both(seen, seen_there))
            if better.likeness > choice.likeness + _CLEARLY:
                choice = better
        return self._sought(view, choice, self._at(view, choice).measured())

    def rows(self, before: Sequence[Mark]) -> slice | None:
        """Which rows of the next frame `follow` looks at; None where it would follow nothing."""
        return self._search.rows(before) if _all_ok(before) else None

    def follow(self, frame: Frame, before: Sequence[Mark]) -> list[Mark] | None:
        """What `measure` gives, within 0.002 px, from the places of the marks of the frame before.
        None where one of them is not found there without doubt.

        frame   whole, or its rows that `rows` names."""
        if not _all_ok(before):
            return None
        view = self._search.view(frame.pixels, self._search.area(before))
        look, unlike = self._search.looks(before)
        choice = self._search.follow(view, before, unlike)
        if not choice:
            return None
        judged = self._judged(view, self._at(view, choice).measured(look))
        marks = told_apart(view, self.camera, judged, self.designs)
        return marks if _all_ok(marks) else None

    def _at(self, view: View, choice: Assignment) -> Chosen:
        return Chosen(view, choice, self._search, self.camera, self.designs)

    def _sought(self, view: View, choice: Assignment, seen: Seen) -> list[Mark]:
        """The marks, those that their colours led nowhere by their outlines, or else as they are
        with what may be damage left out."""
        marks, chosen = self._judged(view, seen), choice.chosen
        sure = {number: mark for number, mark in enumerate(marks) if mark.status == "ok"}
        led = {
            number: mark
            for number, mark in enumerate(marks)
            if mark.status != "missing" and _led(chosen.get(number))
        }
        placed = sure | led
        astray = [number for number in range(len(marks)) if number not in placed]
        outlined = {
            number: by
            for number in astray
            if sure and (by := self._by_outline(view, choice, number, sure, placed))
        }
        elsewhere = self._one_each(outlined)
        put_off = [
            number
            for number in astray
            if number not in elsewhere and number in seen.clear and seen.clear[number].whole
        ]
        if put_off:
            look = seen.sound_look or FIRST_LOOK
            again = self._at(view, choice).clear(put_off, look, thorough=True)
            marks = self._judged(view, replace(seen, clear=seen.clear | again))
        marks = [
            mark
            if number in elsewhere
            or (_there(mark, chosen.get(number)) and not self._claimed(number, mark, elsewhere))
            else not_there(mark)
            for number, mark in enumerate(marks)
        ]
        if elsewhere:
            found = [elsewhere.get(number, mark) for number, mark in enumerate(marks)]
            marks = self._agreeing(view, found)
        sought = {number: (c.row_px, c.col_px) for number, c in chosen.items()}
        told = told_apart(view, self.camera, marks, self.designs)
        return twins_widened(told, self.designs, sought, self.camera)

    def _by_outline(
        self,
        view: View,
        choice: Assignment,
        number: int,
        sure: dict[int, Mark],
        placed: dict[int, Mark],
    ) -> Outlined | None:
        """A mark where its outline shows and is no other's of those placed; None if nowhere.
        Where less of it shows than makes a mark sure, it is doubtful."""
        found = []
        for candidate in self._search.outlines(view, number, sure):
            there = replace(choice, chosen={**choice.chosen, number: candidate})
            by = self._at(view, there).outlined(number)
            if by and by.on_print and not by.mark.flags & DOUBTFUL & ~_PARTLY:
                if self._claimed(number, by.mark, placed):
                    continue
                if by.mark.status == "ok":
                    return by
                found.append(by)
        return max(found, key=_support, default=None)

    def _one_each(self, outlined: dict[int, Outlined]) -> dict[int, Mark]:
        """Marks by their outlines; of those that have one edge between them, that which shows most
        of its own there."""
        kept: dict[int, Mark] = {}
        for number, by in sorted(outlined.items(), key=lambda one: -_support(one[1])):
            if not self._claimed(number, by.mark, kept):
                kept[number] = by.mark
        return kept

    def _claimed(self, number: int, mark: Mark, others: dict[int, Mark]) -> bool:
        """Whether the edge of a mark, if it is there, is that of another."""
        if mark.status == "missing":
            return False
        one = mark, self.designs[number]
        return any(
            claimed(one, (other, self.designs[k]), self.camera) for k, other in others.items()
        )

    def _judged(self, view: View, seen: Seen) -> list[Mark]:
        """All marks of the layout, held against each other."""
        steady = weighed(seen.clear, seen.joined, self.camera.mm_per_px)
        marks = [
            steady.get(number, Mark(design.ink, design.edge, "missing"))
            for number, design in enumerate(self.designs)
        ]
        return self._agreeing(view, marks)

    def _agreeing(self, view: View, marks: list[Mark]) -> list[Mark]:
        """The marks, with what they say of each other. Where one that is known by its outline
        has grown otherwise than the others, edges of other print may have been taken for its
        own: it is asked again with their growth, which takes no doubt away."""
        judged = beside_others(marks, self.designs)
        odd = odd_growths(marks, self.designs, self.camera.mm_per_px)
        if not odd:
            return judged
        found = list(judged)
        for number, grown in odd.items():
            mark, design = judged[number], self.designs[number]
            box = self._search.box(number, Candidate(number, mark.row_px, mark.col_px, 1.0))
            by = measure_outlined(view, self.camera, design, box, near=True, grown=grown)
            if by:
                found[number] = not_there(mark) if by.denied else with_flag(by.mark, mark.flags)
        return beside_others(found, self.designs)


def _there(mark: Mark, chosen: Candidate | None) -> bool:
    """Whether something speaks for a mark: that colour and form led there, or what is there."""
    # What is full of its ink, but of another form as far as it shows among other print, is a piece
    # of artwork. (Of a mark known by its outline no fill is known.)
    artwork = mark.printing.fill > LIMITS.fill and _PARTLY in mark.flags
    unlike = mark.flags & _HARDLY_PLACED and mark.misfit > _ANOTHER_FORM
    return _led(chosen) or not (artwork or unlike or _SOFT_TRACE in mark.flags)


def _support(by: Outlined) -> float:
    return by.fit.support


def _led(chosen: Candidate | None) -> bool:
    return chosen is not None and chosen.led


def _all_ok(marks: Sequence[Mark]) -> bool:
    return bool(marks) and all(mark.status == "ok" for mark in marks)
