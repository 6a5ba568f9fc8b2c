"""Marks measured at the places chosen for them, each with what the others of its frame tell.

Marks standing clear are measured side by side, those that touch together; then once more those of
which the others tell something: how soft edges are today, which way print is slurred.
"""

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign
from regscan.marks.alone import Alone, Wanted, measure_alone
from regscan.marks.clusters import Box, clusters
from regscan.marks.confused import claimed, merged
from regscan.marks.doubt import Slurring
from regscan.marks.finding.assign import Assignment
from regscan.marks.finding.search import FIRST_LOOK, Search
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.growth import shrunken
from regscan.marks.judging.quality import not_there, with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.median import median
from regscan.marks.outlined import Outlined, measure_outlined, surer
from regscan.marks.seeing.view import View
from regscan.marks.shape.template import Appearance
from regscan.marks.together import Joined, measure_together

_UNSEEN_SMEAR = 0.4  # of what smears moved the other marks by, one sigma
_UNEXPLAINED = 0.08  # misfit of a mark that something else may lie on
_UNLIKE_DESIGN = MarkFlag.MISSHAPEN | MarkFlag.CROWDED | MarkFlag.HOLES
_ANOTHER_SHAPE = MarkFlag.MISSHAPEN | MarkFlag.NO_FIT
_TOUCHING_PX = 6  # marks closer than this are measured together

Measured = TypeVar("Measured", Alone, Joined)


@dataclass(frozen=True, slots=True)
class Seen:
    """Marks of a frame by their numbers, each measured by itself or with others it touches."""

    clear: dict[int, Alone]
    joined: dict[int, Mark]

    @property
    def sound_look(self) -> Appearance | None:
        """What sound marks that stand clear look like in the middle; None if there are none."""
        marks = self.clear.values()
        sound = [one.look for one in marks if one.wander and one.mark.status == "ok"]
        return Appearance.usual(sound) if sound else None


@dataclass(frozen=True)
class Chosen:
    """Places chosen in one frame for the marks of a layout.

    designs   all marks of the layout; their numbers are places in it."""

    view: View
    choice: Assignment
    search: Search
    camera: Camera
    designs: Sequence[MarkDesign]

    def measured(self, look: Appearance | None = None) -> Seen:
        """Marks standing clear side by side, first; then each group that touches, together.

        look   the appearance they will have, as far as it is known."""
        numbers = sorted(self.choice.chosen)
        boxes = [self.search.box(number, self.choice.chosen[number]) for number in numbers]
        groups = clusters(boxes, _TOUCHING_PX + self.view.coarse.factor)
        clear = self.clear([numbers[group[0]] for group in groups if len(group) == 1], look)
        look = _seen_look(clear.values()) or look or FIRST_LOOK
        joined: dict[int, Joined] = {}
        for group in sorted((group for group in groups if len(group) > 1), key=len):
            members = {numbers[k]: boxes[k] for k in group}
            marks = self._without_guesses(self._group(members, look))
            joined.update(marks)
            # What the joint fit did not find is not there; the rest fits better without.
            present = {n: one for n, one in marks.items() if one.mark.status != "missing"}
            if len(present) == 1:
                clear.update(self.clear(list(present), look))
            elif 1 < len(present) < len(members):
                few = {number: members[number] for number in present}
                joined.update(self._group(few, look, present))
            missed = {
                n: box
                for n, box in members.items()
                if joined[n].mark.status == "missing" and n not in self._guessed
            }
            self._twins_doubted(missed, joined)
            self._twins_doubted(missed, clear)
        self._damaged_again(clear)
        self._slurred_again(clear)
        return Seen(clear, {number: one.mark for number, one in joined.items()})

    def clear(
        self,
        numbers: Sequence[int],
        look: Appearance | None,
        slurred: tuple[float, float] | None = None,
        *,
        thorough: bool = False,
        partial: Container[int] = (),
    ) -> dict[int, Alone]:
        """Marks by themselves; those with other print against them by their outline, where that
        is sure. Where no look is known, the first mark tells that of the others.

        thorough   True where no other place is left for them.
        partial    those of which not all can show, by the others of the frame."""
        touched = {n for n in numbers if self.search.touched(self.view, n, self.choice.chosen[n])}
        outlined = {n: self.outlined(n) for n in touched}
        beside = {n: by.mark for n, by in outlined.items() if by and by.on_print}
        sure = {n: mark for n, mark in beside.items() if mark.status == "ok"}
        rest = sorted((n for n in numbers if n not in sure), key=lambda n: n in touched)
        # What differs from a mark there is other print. Its outline tells more than what damage
        # would leave of it; and where not even colour and form led there, it may be elsewhere.
        doubted = {n for n in touched if not (thorough or self.choice.chosen[n].led)}
        printed_on = beside.keys() | doubted
        wanted = {
            number: Wanted(
                self.designs[number],
                self.choice.chosen[number],
                whole=number in printed_on,
                partial=number in partial,
            )
            for number in rest
        }
        found = self._alone(wanted, look, slurred)
        look = look or _seen_look(found.values())
        # One that is printed larger than its design leads the others astray.
        astray = {n: wanted[n] for n, one in found.items() if MarkFlag.NO_FIT in one.mark.flags}
        if astray and look not in (None, FIRST_LOOK):
            again = self._alone(astray, FIRST_LOOK, slurred)
            better = {n: one for n, one in again.items() if one.mark.status == "ok"}
            found.update({n: one for n, one in again.items() if not found[n].wander} | better)
        for number, one in found.items():
            if self.choice.rivals.get(number, 0.0) > LIMITS.rival_likeness and one.wander:
                one = replace(one, mark=with_flag(one.mark, MarkFlag.INK_UNSURE))
            if not _explained(one.mark) and number not in touched:
                by = self.outlined(number)
                # Elsewhere all doubts of a mark are about the mark itself.
                outlined[number] = by if by and by.on_print else None
            by = None if _explained(one.mark) else outlined.get(number)
            found[number] = _surer(one, by) if by else one
        found.update({n: Alone(mark, look or FIRST_LOOK) for n, mark in sure.items()})
        return found

    def _alone(
        self,
        wanted: dict[int, Wanted],
        look: Appearance | None,
        slurred: tuple[float, float] | None,
    ) -> dict[int, Alone]:
        some, known = list(wanted.values()), look is not None
        first = look or FIRST_LOOK
        alone = measure_alone(self.view, self.camera, some, first, slurred, known=known)
        return dict(zip(wanted, alone, strict=True))

    def outlined(self, number: int) -> Outlined | None:
        """A mark by its outline."""
        candidate = self.choice.chosen[number]
        box = self.search.box(number, candidate)
        design = self.designs[number]
        by = measure_outlined(self.view, self.camera, design, box, near=candidate.near)
        return None if by and by.denied else by

    def _group(
        self,
        members: dict[int, Box],
        look: Appearance,
        before: dict[int, Joined] | None = None,
    ) -> dict[int, Joined]:
        """Marks that touch. before: what they were among more of them."""
        designs = [self.designs[number] for number in members]
        found = [self.choice.chosen[number] for number in members]
        earlier = [before[number] for number in members] if before else None
        boxes = list(members.values())
        marks = measure_together(self.view, self.camera, designs, found, boxes, look, earlier)
        return dict(zip(members, marks, strict=True))

    @cached_property
    def _guessed(self) -> frozenset[int]:
        """Marks that were seen nowhere, and sought on others though the layout has them clear."""
        return self.choice.hidden - self.search.piled

    def _without_guesses(self, joined: dict[int, Joined]) -> dict[int, Joined]:
        """Marks of one group, missing those that were only sought there and seem to lie where
        another's edge is: that of all places they lie just there hardly happens, and that an ink
        is not quite of its colour does every day. So are those whose outline is another ink's: the
        scene takes the colours it finds for theirs."""
        there = {n: one.mark for n, one in joined.items() if one.mark.status != "missing"}
        seen = {n: (mark, self.designs[n]) for n, mark in there.items()}
        found = dict(joined)
        for number in self._guessed & seen.keys():
            others = (one for n, one in seen.items() if n not in self._guessed)
            by = joined[number].outlined
            denied = by is not None and MarkFlag.INK_UNSURE in by.mark.flags
            if denied or any(claimed(seen[number], other, self.camera) for other in others):
                found[number] = replace(joined[number], mark=not_there(there[number]))
        return found

    def _twins_doubted(self, missed: dict[int, Box], found: dict[int, Measured]) -> None:
        """Marks where another of their shape was sought and not found: that one may have its
        edge in theirs."""
        for number, one in found.items():
            design, mark = self.designs[number], one.mark
            if mark.status == "ok" and any(
                merged(
                    (mark, design),
                    (replace(mark, row_px=box.row, col_px=box.col), other),
                    self.camera,
                )
                for other, box in ((self.designs[n], box) for n, box in missed.items())
            ):
                found[number] = replace(one, mark=with_flag(mark, MarkFlag.INK_UNSURE))

    def _damaged_again(self, clear: dict[int, Alone]) -> None:
        """Marks that do not look like the design, measured before others had told how soft
        edges are today and how far print grows: half an outline tells neither. So are those that
        seem to be what they should be until they are held against the others."""
        look, small = Seen(clear, {}).sound_look, self._shrunken(clear)
        doubted = [
            number
            for number, one in clear.items()
            if one.wander and one.mark.flags & _UNLIKE_DESIGN and one.others != look
        ]
        if not look or not (doubted or small):
            return
        for number, one in self.clear([*doubted, *small], look, partial=small).items():
            before = clear[number]
            if one.wander and one.mark.misfit < before.mark.misfit:
                clear[number] = one
            elif number in small:
                clear[number] = replace(before, mark=with_flag(before.mark, MarkFlag.MISSHAPEN))

    def _shrunken(self, clear: dict[int, Alone]) -> set[int]:
        """Marks smaller than the others of the frame by what has faded on one side of them."""
        whole = {
            number: (one.wander.growth, one.unlike)
            for number, one in clear.items()
            if one.wander and one.mark.status == "ok"
        }
        return shrunken(whole, self.camera.mm_per_px)

    def _slurred_again(self, clear: dict[int, Alone]) -> None:
        """All marks read as slurred where some are and most others ask for it a little: what no
        mark shows for sure by itself, a frame of them does."""
        seen = {number: one for number, one in clear.items() if one.wander}
        sure = [one for one in seen.values() if _slur(one)]
        if not sure:
            return
        ways = [slur.along for one in sure if (slur := _slur(one))]
        way, usual = max(set(ways), key=ways.count), Appearance.usual([one.look for one in sure])
        rest = [n for n, one in seen.items() if one.wander and not one.wander.growth.leans]
        again = self.clear(rest, usual, way) if rest else {}
        slurs = [slur for one in (seen | again).values() if (slur := _slur(one))]
        gains = [slur.gain for slur in slurs] + [0.0] * (len(seen) - len(slurs))
        if median(gains) < LIMITS.slur_others:
            return
        moved = [median(steps) for steps in zip(*(slur.moved for slur in slurs), strict=True)]
        for number in rest:
            if _slur(again[number]):
                clear[number] = again[number]
                continue
            # What does not show in its pixels may still have moved it a little.
            row, col = (_UNSEEN_SMEAR * step for step in moved)
            one = clear[number]
            if one.wander:
                clear[number] = replace(one, wander=replace(one.wander, pull=(row, col)))


def _slur(one: Alone) -> Slurring | None:
    return one.wander.slur if one.wander else None


def _seen_look(some: Iterable[Alone]) -> Appearance | None:
    """The appearance of the first mark that is what it should be."""
    like_design = (one for one in some if one.wander and not one.mark.flags & _ANOTHER_SHAPE)
    return next((one.look for one in like_design), None)


def _explained(mark: Mark) -> bool:
    """Whether nothing else that is printed there would explain more of a mark."""
    clean = mark.status == "ok" and mark.misfit < _UNEXPLAINED
    return clean or MarkFlag.SATURATED in mark.flags


def _surer(one: Alone, outlined: Outlined) -> Alone:
    better = surer(one.mark, outlined.mark)
    if better.status != "ok" and one.mark.misfit < _UNEXPLAINED:
        return one  # damage that is left out explains all that differs
    return one if better is one.mark else Alone(better, one.look)
