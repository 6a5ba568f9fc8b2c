"""MarkFinder: every mark of the layout in one frame, with its doubt.

The order of work: view -> candidates -> one joint choice -> a fit per mark, or per
group of marks that touch -> flags. `measure` remembers nothing. `follow` looks only
where the marks of the frame before were, and in the whole frame as soon as one of
them is not found there without doubt.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import MarkDesign
from regscan.marks.alone import Alone, Wanted, measure_alone
from regscan.marks.clusters import Box, clusters
from regscan.marks.doubt import Slurring
from regscan.marks.finding.assign import Assignment
from regscan.marks.finding.candidates import Candidate
from regscan.marks.finding.search import FIRST_LOOK, Search
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.others import beside_others, odd_growths
from regscan.marks.judging.quality import DOUBTFUL, with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.outlined import Outlined, measure_outlined, merged, surer
from regscan.marks.seeing.view import View
from regscan.marks.shape.template import Appearance
from regscan.marks.together import Joined, measure_together
from regscan.marks.weighed import weighed
from regscan.recording.frame import Frame

_CLEARLY = 0.2  # of likeness, in all: less says nothing about which reading is right
_UNSEEN_SMEAR = 0.4  # of what smears moved the other marks by, one sigma
_UNEXPLAINED = 0.08  # misfit of a mark that something else may lie on
_ON_PRINT = 0.1  # of an outline beside which something else is printed
_UNLIKE_DESIGN = MarkFlag.MISSHAPEN | MarkFlag.CROWDED | MarkFlag.HOLES
_PARTLY = MarkFlag.CROWDED | MarkFlag.MISSHAPEN  # what an outline between other print may be
_ANOTHER_SHAPE = MarkFlag.MISSHAPEN | MarkFlag.NO_FIT
_LED = 0.6  # likeness of a place to which colour and form have led
_TOUCHING_PX = 6  # marks closer than this are measured together

Measured = TypeVar("Measured", Alone, Joined)


@dataclass(frozen=True, slots=True)
class _Seen:
    """Marks of a frame by their numbers, each measured by itself or with others it touches."""

    clear: dict[int, Alone]
    joined: dict[int, Mark]


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
        return self._sought(view, choice, self._measured(view, choice))

    def follow(self, frame: Frame, before: Sequence[Mark]) -> list[Mark]:
        """The same, with the marks of the frame before to go by; within 0.002 px the same."""
        if _all_ok(before):
            view = self._search.view(frame.pixels, self._search.area(before))
            choice = self._search.follow(view, before)
            look = self._search.look(before)
            if choice:
                marks = self._judged(view, self._measured(view, choice, look))
                if _all_ok(marks):
                    return marks
        return self.measure(frame)

    def _sought(self, view: View, choice: Assignment, seen: _Seen) -> list[Mark]:
        """The marks, those that their colours led nowhere by their outlines, or else as they are
        with what may be damage left out."""
        marks = self._judged(view, seen)
        sure = {number: mark for number, mark in enumerate(marks) if mark.status == "ok"}
        elsewhere, put_off = {}, []
        for number, mark in enumerate(marks):
            chosen = choice.chosen.get(number)
            led = chosen and _led(chosen) and mark.status != "missing"
            if led or number in sure:
                continue
            by = self._by_outline(view, choice, number, sure) if sure else None
            if by:
                elsewhere[number] = by
            elif number in seen.clear and seen.clear[number].whole:
                put_off.append(number)
        if put_off:
            look = _sound_look(seen.clear) or FIRST_LOOK
            again = self._measure_clear(view, choice, put_off, look, thorough=True)
            marks = self._judged(view, replace(seen, clear=seen.clear | again))
        if not elsewhere:
            return marks
        found = [elsewhere.get(number, mark) for number, mark in enumerate(marks)]
        return self._agreeing(view, found)

    def _by_outline(
        self, view: View, choice: Assignment, number: int, sure: dict[int, Mark]
    ) -> Mark | None:
        """A mark where its outline shows and no other mark of its shape lies; None if nowhere.
        Where less of it shows than makes a mark sure, it is doubtful."""
        found = []
        for candidate in self._search.outlines(view, number, sure):
            there = replace(choice, chosen={**choice.chosen, number: candidate})
            by = self._outlined(view, there, number)
            if by and by.beside > _ON_PRINT and not by.mark.flags & DOUBTFUL & ~_PARTLY:
                one = by.mark, self.designs[number]
                if not any(merged(one, (mark, self.designs[k])) for k, mark in sure.items()):
                    found.append(by)
                    if by.mark.status == "ok":
                        return by.mark
        best = max(found, key=lambda by: by.fit.support, default=None)
        return best.mark if best else None

    def _measured(self, view: View, choice: Assignment, look: Appearance | None = None) -> _Seen:
        """Marks standing clear side by side, first; then each group that touches, together.

        look   the appearance they will have, as far as it is known."""
        numbers = sorted(choice.chosen)
        boxes = [self._search.box(number, choice.chosen[number]) for number in numbers]
        groups = clusters(boxes, _TOUCHING_PX + view.coarse.factor)
        clear = self._measure_clear(
            view, choice, [numbers[group[0]] for group in groups if len(group) == 1], look
        )
        look = _seen_look(clear.values()) or look or FIRST_LOOK
        joined: dict[int, Joined] = {}
        for group in sorted((group for group in groups if len(group) > 1), key=len):
            members = {numbers[k]: boxes[k] for k in group}
            marks = self._measure_group(view, choice, members, look)
            joined.update(marks)
            # What the joint fit did not find is not there; the rest fits better without.
            present = {n: one for n, one in marks.items() if one.mark.status != "missing"}
            if len(present) == 1:
                clear.update(self._measure_clear(view, choice, list(present), look))
            elif 1 < len(present) < len(members):
                few = {number: members[number] for number in present}
                joined.update(self._measure_group(view, choice, few, look, present))
            missed = {n: box for n, box in members.items() if joined[n].mark.status == "missing"}
            self._twins_doubted(missed, joined)
            self._twins_doubted(missed, clear)
        self._damaged_again(view, choice, clear)
        self._slurred_again(view, choice, clear)
        return _Seen(clear, {number: one.mark for number, one in joined.items()})

    def _twins_doubted(self, missed: dict[int, Box], found: dict[int, Measured]) -> None:
        """Marks where another of their shape was sought and not found: that one may have its
        edge in theirs."""
        for number, one in found.items():
            design, mark = self.designs[number], one.mark
            if mark.status == "ok" and any(
                merged((mark, design), (replace(mark, row_px=box.row, col_px=box.col), other))
                for other, box in ((self.designs[n], box) for n, box in missed.items())
            ):
                found[number] = replace(one, mark=with_flag(mark, MarkFlag.INK_UNSURE))

    def _judged(self, view: View, seen: _Seen) -> list[Mark]:
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

    def _damaged_again(self, view: View, choice: Assignment, clear: dict[int, Alone]) -> None:
        """Marks that do not look like the design, measured before others had told how soft
        edges are today and how far print grows: half an outline tells neither."""
        seen = {number: one for number, one in clear.items() if one.wander}
        look = _sound_look(clear)
        doubted = [number for number, one in seen.items() if one.mark.flags & _UNLIKE_DESIGN]
        if not (look and doubted):
            return
        for number, one in self._measure_clear(view, choice, doubted, look).items():
            if one.wander and one.mark.misfit < clear[number].mark.misfit:
                clear[number] = one

    def _slurred_again(self, view: View, choice: Assignment, clear: dict[int, Alone]) -> None:
        """All marks read as slurred where some are and most others ask for it a little: what no
        mark shows for sure by itself, a frame of them does."""
        seen = {number: one for number, one in clear.items() if one.wander}
        sure = [one for one in seen.values() if _slur(one)]
        if not sure:
            return
        ways = [slur.along for one in sure if (slur := _slur(one))]
        way, usual = max(set(ways), key=ways.count), _usual([one.look for one in sure])
        rest = [n for n, one in seen.items() if one.wander and not one.wander.growth.leans]
        again = self._measure_clear(view, choice, rest, usual, way) if rest else {}
        slurs = [slur for one in (seen | again).values() if (slur := _slur(one))]
        gains = [slur.gain for slur in slurs] + [0.0] * (len(seen) - len(slurs))
        if float(np.median(gains)) < LIMITS.slur_others:
            return
        moved = np.median([slur.moved for slur in slurs], axis=0)
        for number in rest:
            if _slur(again[number]):
                clear[number] = again[number]
                continue
            # What does not show in its pixels may still have moved it a little.
            row, col = (_UNSEEN_SMEAR * moved).tolist()
            one = clear[number]
            if one.wander:
                clear[number] = replace(one, wander=replace(one.wander, pull=(row, col)))

    def _measure_clear(
        self,
        view: View,
        choice: Assignment,
        numbers: Sequence[int],
        look: Appearance | None,
        slurred: tuple[float, float] | None = None,
        *,
        thorough: bool = False,
    ) -> dict[int, Alone]:
        """Marks by themselves; those with other print against them by their outline, where that
        is sure. Where no look is known, the first mark tells that of the others.

        thorough   True where no other place is left for them."""
        touched = {n for n in numbers if self._search.touched(view, n, choice.chosen[n])}
        outlined = {n: self._outlined(view, choice, n) for n in touched}
        beside = {n: by.mark for n, by in outlined.items() if by and by.beside > _ON_PRINT}
        sure = {n: mark for n, mark in beside.items() if mark.status == "ok"}
        rest = sorted((n for n in numbers if n not in sure), key=lambda n: n in touched)
        # What differs from a mark there is other print. Its outline tells more than what damage
        # would leave of it; and where not even colour and form led there, it may be elsewhere.
        doubted = {n for n in touched if not (thorough or _led(choice.chosen[n]))}
        printed_on = beside.keys() | doubted
        found: dict[int, Alone] = {}
        for some in [rest[:1], rest[1:]] if look is None else [rest]:
            wanted = [
                Wanted(self.designs[number], choice.chosen[number], whole=number in printed_on)
                for number in some
            ]
            alone = measure_alone(view, self.camera, wanted, look or FIRST_LOOK, slurred)
            look = look or _seen_look(alone)
            found.update(zip(some, alone, strict=True))
        for number, one in found.items():
            if choice.rivals.get(number, 0.0) > LIMITS.rival_likeness and one.wander:
                one = replace(one, mark=with_flag(one.mark, MarkFlag.INK_UNSURE))
            if not _explained(one.mark) and number not in touched:
                by = self._outlined(view, choice, number)
                # Elsewhere all doubts of a mark are about the mark itself.
                outlined[number] = by if by and by.beside > _ON_PRINT else None
            by = None if _explained(one.mark) else outlined.get(number)
            found[number] = _surer(one, by) if by else one
        found.update({n: Alone(mark, look or FIRST_LOOK) for n, mark in sure.items()})
        return found

    def _outlined(self, view: View, choice: Assignment, number: int) -> Outlined | None:
        """A mark by its outline."""
        candidate = choice.chosen[number]
        box = self._search.box(number, candidate)
        design = self.designs[number]
        return measure_outlined(view, self.camera, design, box, near=candidate.near)

    def _measure_group(
        self,
        view: View,
        choice: Assignment,
        members: dict[int, Box],
        look: Appearance,
        before: dict[int, Joined] | None = None,
    ) -> dict[int, Joined]:
        """Marks that touch. before: what they were among more of them."""
        designs = [self.designs[number] for number in members]
        found = [choice.chosen[number] for number in members]
        earlier = [before[number] for number in members] if before else None
        boxes = list(members.values())
        marks = measure_together(view, self.camera, designs, found, boxes, look, earlier)
        return dict(zip(members, marks, strict=True))


def _slur(one: Alone) -> Slurring | None:
    return one.wander.slur if one.wander else None


def _seen_look(some: Iterable[Alone]) -> Appearance | None:
    """The appearance of the first mark that is what it should be."""
    like_design = (one for one in some if one.wander and not one.mark.flags & _ANOTHER_SHAPE)
    return next((one.look for one in like_design), None)


def _sound_look(clear: dict[int, Alone]) -> Appearance | None:
    """What sound marks look like in the middle."""
    sound = [one.look for one in clear.values() if one.wander and one.mark.status == "ok"]
    return _usual(sound) if sound else None


def _usual(looks: Sequence[Appearance]) -> Appearance:
    parts = [(look.row_px, look.col_px, look.growth_px) for look in looks]
    return Appearance(*np.median(parts, axis=0).tolist()).rounded()


def _led(candidate: Candidate) -> bool:
    """Whether colour and form have led to a place."""
    return candidate.likeness > _LED


def _explained(mark: Mark) -> bool:
    """Whether nothing else that is printed there would explain more of a mark."""
    clean = mark.status == "ok" and mark.misfit < _UNEXPLAINED
    return clean or MarkFlag.SATURATED in mark.flags


def _surer(one: Alone, outlined: Outlined) -> Alone:
    better = surer(one.mark, outlined.mark)
    if better.status != "ok" and one.mark.misfit < _UNEXPLAINED:
        return one  # damage that is left out explains all that differs
    return one if better is one.mark else Alone(better, one.look)


def _all_ok(marks: Sequence[Mark]) -> bool:
    return bool(marks) and all(mark.status == "ok" for mark in marks)
