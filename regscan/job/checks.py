"""Checks across the tables of a job: do the names and numbers fit each other?

Each check takes the draft and yields problems; a new one is one function and
one line in CHECKS. A check stays silent where the part it needs could not be
read: that part has its own message already.
"""

from collections.abc import Iterator

from regscan.errors import Problem
from regscan.job.check_marks import MARK_CHECKS
from regscan.job.check_overprints import OVERPRINT_CHECKS
from regscan.job.draft import Draft
from regscan.tomlfile import shown, spot, suggest


def cross_checks(draft: Draft) -> list[Problem]:
    """Every problem that only shows when tables are held against each other."""
    return [problem for check in CHECKS for problem in check(draft)]


def station_inks_known(draft: Draft) -> Iterator[Problem]:
    """Every station prints an ink of [inks]."""
    for index, ink in enumerate(draft.station_inks):
        if ink and draft.inks is not None and ink not in draft.inks:
            place = spot("press.stations", index, "ink")
            cure = f"{suggest(ink, draft.inks)} or add [inks.{ink[:64]}]"
            yield Problem(place, f"{shown(ink)} is not in [inks]", cure)


def one_station_per_ink(draft: Draft) -> Iterator[Problem]:
    """No ink is at two stations: results are kept by the name of the ink."""
    first: dict[str, int] = {}
    for index, ink in enumerate(draft.station_inks):
        if ink in first:
            what = f"{shown(ink)} is already at station {first[ink] + 1}"
            cure = "name the inks apart, for example 'white 1' and 'white 2'"
            yield Problem(spot("press.stations", index, "ink"), what, cure)
        elif ink:
            first[ink] = index


def every_ink_printed(draft: Draft) -> Iterator[Problem]:
    """Every ink of [inks] is at a station."""
    if not draft.station_inks or None in draft.station_inks:
        return
    for ink in draft.inks or {}:
        if ink not in draft.station_inks:
            cure = "add its station to [[press.stations]], or remove the ink"
            yield Problem(spot("inks", ink), "is at no station", cure)


def reference_usable(draft: Draft) -> Iterator[Problem]:
    """The reference is an ink that can be measured, and has a mark."""
    ink = draft.reference
    if ink is None or draft.inks is None:
        return
    visible = [name for name in draft.inks if not draft.cover_is_invisible(name)]
    if ink not in draft.inks:
        yield Problem("reference", f"{shown(ink)} is not in [inks]", suggest(ink, visible))
    elif draft.cover_is_invisible(ink):
        cure = f"choose an ink that can be seen: {', '.join(visible[:16])}"
        yield Problem("reference", f"{shown(ink)} is invisible and cannot be measured", cure)
    elif draft.all_marks_named and ink not in draft.mark_inks:
        cure = "add its [[marks]], or choose a reference that has one"
        yield Problem("reference", f"{shown(ink)} has no mark", cure)


def cameras_fit(draft: Draft) -> Iterator[Problem]:
    """Each camera has its own name and looks behind a station that is there."""
    seen: dict[str, int] = {}
    count = len(draft.station_inks)
    for index, camera in enumerate(draft.cameras):
        if camera is None:
            continue
        if camera.name in seen:
            what = f"{shown(camera.name)} is already the name of camera {seen[camera.name] + 1}"
            yield Problem(spot("press.cameras", index, "name"), what, "give each its own name")
        seen.setdefault(camera.name, index)
        if count and not 1 <= camera.after_station <= count:
            what = f"there is no station {shown(camera.after_station)}"
            cure = f"give a station from 1 (at the unwind) to {count}"
            yield Problem(spot("press.cameras", index, "after_station"), what, cure)


def tolerance_inks_known(draft: Draft) -> Iterator[Problem]:
    """A tolerance of its own belongs to an ink of [inks]."""
    for ink in draft.ink_tolerances:
        if draft.inks is not None and ink not in draft.inks:
            place = spot("tolerance.inks", ink)
            yield Problem(place, "is not in [inks]", suggest(ink, draft.inks))


CHECKS = (
    station_inks_known,
    one_station_per_ink,
    every_ink_printed,
    reference_usable,
    cameras_fit,
    *MARK_CHECKS,
    *OVERPRINT_CHECKS,
    tolerance_inks_known,
)
