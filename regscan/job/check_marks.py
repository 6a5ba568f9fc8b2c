"""Checks of the mark layout against the inks and against itself."""

from collections.abc import Iterator

from regscan.errors import Problem
from regscan.job.draft import Draft
from regscan.tomlfile import shown, spot, suggest


def mark_inks_known(draft: Draft) -> Iterator[Problem]:
    """A mark belongs to an ink of [inks] that can be seen."""
    for index, ink in enumerate(draft.mark_inks):
        if ink is None or draft.inks is None:
            continue
        place = spot("marks", index, "ink")
        if ink not in draft.inks:
            yield Problem(place, f"{shown(ink)} is not in [inks]", suggest(ink, draft.inks))
        elif draft.cover_is_invisible(ink):
            cure = "remove the mark: an invisible ink is listed in the results, not measured"
            yield Problem(place, f"{shown(ink)} is invisible, so its mark cannot be seen", cure)


def every_ink_marked(draft: Draft) -> Iterator[Problem]:
    """An ink that can be seen has a mark, or its register would silently go unmeasured."""
    if not draft.all_marks_named:
        return
    for ink, known in (draft.inks or {}).items():
        if known is None or not known.measurable or ink in draft.mark_inks:
            continue
        if ink != draft.reference:  # the reference has a message of its own
            cure = 'add its [[marks]], or write cover = "invisible" if it leaves nothing to see'
            yield Problem(spot("inks", ink), "has no mark", cure)


def one_mark_per_set(draft: Draft) -> Iterator[Problem]:
    """Within one mark set an ink has one mark: results are kept by ink and edge."""
    first: dict[tuple[str, str], int] = {}
    for index, mark in enumerate(draft.marks):
        if mark is None:
            continue
        key = (mark.ink, mark.edge)
        if key in first:
            other = draft.marks[first[key]]
            here = (mark.circumferential_mm, mark.lateral_mm)
            twice = other and here == (other.circumferential_mm, other.lateral_mm)
            which = f"on the {mark.edge} edge" if mark.edge else "in this mark set"
            which += ", in the same place" if twice else ""
            what = f"{shown(mark.ink)} already has marks[{first[key] + 1}] {which}"
            cure = (
                'keep one, or write edge = "operator" and edge = "drive" for one set per web edge'
            )
            yield Problem(spot("marks", index), what, cure)
        first.setdefault(key, index)


def edges_not_mixed(draft: Draft) -> Iterator[Problem]:
    """An ink's marks either all name their web edge or none does."""
    edges: dict[str, set[str]] = {}
    for index, mark in enumerate(draft.marks):
        if mark is None:
            continue
        known = edges.setdefault(mark.ink, set())
        if mark.edge not in known and known and (not mark.edge or "" in known):
            what = f"{shown(mark.ink)} has marks with and without an edge"
            cure = "name the edge of every mark of the ink, or of none"
            yield Problem(spot("marks", index, "edge"), what, cure)
        known.add(mark.edge)


def reference_in_every_set(draft: Draft) -> Iterator[Problem]:
    """Each mark set holds the reference, or nothing in it could be measured."""
    if None in draft.marks or draft.reference not in draft.mark_inks:
        return
    marks = [mark for mark in draft.marks if mark]
    of_reference = {mark.edge for mark in marks if mark.ink == draft.reference}
    for edge in sorted({mark.edge for mark in marks} - of_reference):
        index = next(k for k, mark in enumerate(marks) if mark.edge == edge)
        where = f"the {edge} edge" if edge else "the mark set without an edge"
        what = f"{where} has no mark of the reference {shown(draft.reference)}"
        cure = "add the reference's mark there, or put this mark on an edge that has it"
        yield Problem(spot("marks", index), what, cure)


def approved_where_counted(draft: Draft) -> Iterator[Problem]:
    """Where offsets count from the approved sheet, every mark's place on it is known."""
    if draft.zero != "approved":
        return
    for index, mark in enumerate(draft.marks):
        if mark and mark.approved is None and mark.ink != draft.reference:
            what = 'is missing, and zero = "approved" counts offsets from it'
            cure = 'teach the approved sheet (regscan teach), or write zero = "design"'
            yield Problem(spot("marks", index, "approved_mm"), what, cure)


def marks_on_the_web(draft: Draft) -> Iterator[Problem]:
    """A mark set is no wider than the web and no longer than the repeat."""
    if draft.press is None:
        return
    for edge in sorted({mark.edge for mark in draft.marks if mark}):
        members = [mark for mark in draft.marks if mark and mark.edge == edge]
        for name, room_mm, places in (
            ("web width", draft.press.web_width_mm, [m.lateral_mm for m in members]),
            ("repeat", draft.press.repeat_mm, [m.circumferential_mm for m in members]),
        ):
            span = max(places) - min(places)
            if span > room_mm:
                what = f"places span {span:g} mm, more than the {name} of {room_mm:g} mm"
                yield Problem("marks", what, "at_mm is in millimetres on the web")


def edge_spacing_fits(draft: Draft) -> Iterator[Problem]:
    """The two mark sets both lie on the web."""
    if draft.press is None or draft.press.edge_spacing_mm is None:
        return
    spacing, width = draft.press.edge_spacing_mm, draft.press.web_width_mm
    if spacing > width:
        what = f"is {spacing:g} mm, more than the web width of {width:g} mm"
        yield Problem("press.edge_spacing_mm", what, "give the distance from mark to mark")


MARK_CHECKS = (
    mark_inks_known,
    every_ink_marked,
    one_mark_per_set,
    edges_not_mixed,
    reference_in_every_set,
    approved_where_counted,
    marks_on_the_web,
    edge_spacing_fits,
)
