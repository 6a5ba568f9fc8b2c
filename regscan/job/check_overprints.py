"""Checks of the overprint colours against the inks and against each other."""

from collections.abc import Iterator

from regscan.errors import Problem
from regscan.job.draft import Draft
from regscan.tomlfile import shown, spot, suggest


def overprint_inks_known(draft: Draft) -> Iterator[Problem]:
    """An overprint is of inks of [inks] that can be seen."""
    if draft.inks is None:
        return
    visible = [name for name in draft.inks if not draft.cover_is_invisible(name)]
    for index, inks in enumerate(draft.overprint_inks):
        for number, ink in enumerate(inks):
            place = spot("overprints", index, "inks", number)
            if ink not in draft.inks:
                yield Problem(place, f"{shown(ink)} is not in [inks]", suggest(ink, visible))
            elif draft.cover_is_invisible(ink):
                cure = "leave it out: an invisible ink changes no colour"
                yield Problem(place, f"{shown(ink)} is invisible", cure)


def overprint_inks_differ(draft: Draft) -> Iterator[Problem]:
    """An ink lies once in an overprint."""
    for index, inks in enumerate(draft.overprint_inks):
        for number, ink in enumerate(inks):
            if ink in inks[:number]:
                place = spot("overprints", index, "inks", number)
                yield Problem(place, f"{shown(ink)} is named twice", "name each ink once")


def one_colour_per_overprint(draft: Draft) -> Iterator[Problem]:
    """The same inks have one colour where they lie on each other."""
    first: dict[frozenset[str], int] = {}
    for index, inks in enumerate(draft.overprint_inks):
        if not inks:
            continue
        before = first.setdefault(frozenset(inks), index)
        if before != index:
            what = f"{' on '.join(map(shown, inks))} already has overprints[{before + 1}]"
            yield Problem(spot("overprints", index), what, "keep one of them")


OVERPRINT_CHECKS = (overprint_inks_known, overprint_inks_differ, one_colour_per_overprint)
