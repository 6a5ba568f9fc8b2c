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
from regscan.marks.finding.assign import Assignment
from regscan.marks.finding.candidates import Candidate
from regscan.marks.finding.search import FIRST_LOOK, Search
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.others import beside_others, odd_growths, twins_widened
from regscan.marks.judging.quality import DOUBTFUL, not_there, with_flag
from regscan.marks.mark import Mark
from regscan.marks.outlined import claimed, measure_outlined
from regscan.marks.seeing.view import View
from regscan.marks.weighed import weighed
from regscan.recording.frame import Frame

_CLEARLY = 0.2  # of likeness, in all: less says nothing about which reading is right
_ANOTHER_FORM = 0.3  # misfit of what is not the mark, where nothing led to it: damage leaves less
_HARDLY_PLACED = MarkFlag.FAINT | MarkFlag.NO_FIT
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
        marks = self._judged(view, self._at(view, choice).measured(look))
        return marks if _all_ok(marks) else None

    def _at(self, view: View, choice: Assignment) -> Chosen:
        return Chosen(view, choice, self._search, self.camera, self.designs)

    def _sought(self, view: View, choice: Assignment, seen: Seen) -> list[Mark]:
        """The marks, those that their colours led nowhere by their outlines, or else as they are
        with what may be damage left out."""
        marks = self._judged(view, seen)
        sure = {number: mark for number, mark in enumerate(marks) if mark.status == "ok"}
        elsewhere, put_off = {}, []
        for number, mark in enumerate(marks):
            chosen = choice.chosen.get(number)
            led = chosen and chosen.led and mark.status != "missing"
            if led or number in sure:
                continue
            by = self._by_outline(view, choice, number, sure) if sure else None
            if by:
                elsewhere[number] = by
            elif number in seen.clear and seen.clear[number].whole:
                put_off.append(number)
        if put_off:
            look = seen.sound_look or FIRST_LOOK
            again = self._at(view, choice).clear(put_off, look, thorough=True)
            marks = self._judged(view, replace(seen, clear=seen.clear | again))
        marks = [
            mark
            if number in elsewhere or _there(mark, choice.chosen.get(number))
            else not_there(mark)
            for number, mark in enumerate(marks)
        ]
        if elsewhere:
            found = [elsewhere.get(number, mark) for number, mark in enumerate(marks)]
            marks = self._agreeing(view, found)
        sought = {number: (c.row_px, c.col_px) for number, c in choice.chosen.items()}
        return twins_widened(marks, self.designs, sought)

    def _by_outline(
        self, view: View, choice: Assignment, number: int, sure: dict[int, Mark]
    ) -> Mark | None:
        """A mark where its outline shows and is no other mark's; None if nowhere.
        Where less of it shows than makes a mark sure, it is doubtful."""
        found = []
        for candidate in self._search.outlines(view, number, sure):
            there = replace(choice, chosen={**choice.chosen, number: candidate})
            by = self._at(view, there).outlined(number)
            if by and by.on_print and not by.mark.flags & DOUBTFUL & ~_PARTLY:
                one = by.mark, self.designs[number]
                others = ((mark, self.designs[k]) for k, mark in sure.items())
                if not any(claimed(one, other, self.camera) for other in others):
                    found.append(by)
                    if by.mark.status == "ok":
                        return by.mark
        best = max(found, key=lambda by: by.fit.support, default=None)
        return best.mark if best else None

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
                found[number] = with_flag(by.mark, mark.flags)
        return beside_others(found, self.designs)


def _there(mark: Mark, chosen: Candidate | None) -> bool:
    """Whether something speaks for a mark: that colour and form led there, or what is there."""
    led = chosen is not None and chosen.led
    return led or not (mark.flags & _HARDLY_PLACED and mark.misfit > _ANOTHER_FORM)


def _all_ok(marks: Sequence[Mark]) -> bool:
    return bool(marks) and all(mark.status == "ok" for mark in marks)
