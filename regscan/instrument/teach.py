"""Learn a job's colours, overprints and zero from the frames of an approved sheet.

The order of work: find every mark (by the job's own colours, or by layout and shape
where those are not known or do not fit) -> read the pure colours -> find the marks
again with these -> read colours and places -> say what does not fit.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from regscan.errors import BadFrames, Problem
from regscan.instrument.approved import approved_marks
from regscan.instrument.lesson import ENOUGH, Lesson, Progress, Seen, Sheet, without_colour
from regscan.instrument.misfits import misfits
from regscan.instrument.taught import Taught, TaughtColour
from regscan.instrument.taught_colours import learn_colours
from regscan.job.job import Colour, Ink, Job, Overprint, Zero
from regscan.marks.seeing.inks import colour_light

__all__ = ["Sheet", "apply", "check_zero", "learn"]


def learn(sheet: Sheet, progress: Progress = lambda done, total: None) -> Taught:
    """Everything the frames tell about the job.

    Raises BadFrames, naming every reason, where they do not show what is to be learnt:
    no usable frame, an ink that is not found, marks that cannot be told apart.
    """
    lesson = Lesson(sheet, progress)
    lesson.check_inks_shown()
    first, found = lesson.first_look()
    provisional = apply(sheet.job, _colours_alone(first, sheet.job))
    _check_colours_known(sheet, provisional)
    second = lesson.measured(provisional, 2)
    _check_all_found(sheet, second)
    colours = learn_colours([one.colours for one in second], sheet.job)
    taught = Taught(
        substrate=colours.substrate,
        inks=colours.inks,
        overprints=colours.overprints,
        marks=approved_marks([one.frame for one in second], sheet.job, sheet.cameras),
        found=found,
        frames=len(second),
    )
    return replace(taught, remarks=(*misfits(taught, sheet.job, colours), *lesson.remarks))


def check_zero(taught: Taught, job: Job, zero: Zero, folder: str) -> None:
    """Refuse to count from the approved sheet where it did not show every mark well."""
    lacking = [m for m in taught.marks if m.approved is None and m.ink != job.reference]
    problems = [
        Problem(
            f"{mark.ink} ({mark.edge} edge)" if mark.edge else mark.ink,
            "its place on the approved sheet was not learnt, and offsets are to count from it",
            "give frames that show this mark and the reference well, or use --zero design",
        )
        for mark in lacking
    ]
    if zero == "approved" and problems:
        raise BadFrames(folder, problems)


def apply(job: Job, taught: Taught, zero: Zero | None = None) -> Job:
    """The job with what was learnt in it; zero None keeps the job's own.

    Colours are replaced together, since taught ones and given ones do not share a scale;
    overprints that were not seen are then predicted.
    """
    approved = {(mark.ink, mark.edge): mark.approved for mark in taught.marks}
    return replace(
        job,
        substrate=_colour(taught.substrate),
        inks=tuple(_taught_ink(ink, job, taught) for ink in job.inks),
        overprints=tuple(Overprint(k, _colour(v)) for k, v in taught.overprints.items()),
        marks=tuple(
            replace(mark, approved=approved.get((mark.ink, mark.edge)) or mark.approved)
            for mark in job.marks
        ),
        zero=zero or job.zero,
    )


def _colour(taught: TaughtColour) -> Colour:
    return Colour("taught", taught.camera)


def _taught_ink(ink: Ink, job: Job, taught: Taught) -> Ink:
    """The ink as learnt; one that was not seen alone as the job has it, over this substrate."""
    if ink.name in taught.inks:
        return replace(ink, colour=_colour(taught.inks[ink.name]))
    if ink.colour is None or ink.colour.values is None or job.substrate.values is None:
        return ink
    share = colour_light(ink.colour) / np.maximum(colour_light(job.substrate), 1e-3)
    red, green, blue = np.clip(share * taught.substrate.camera, 0.0, 1.0).tolist()
    return replace(ink, colour=Colour("taught", (red, green, blue)))


def _colours_alone(seen: Sequence[Seen], job: Job) -> Taught:
    """Colours alone, for a second look."""
    colours = learn_colours([one.colours for one in seen], job)
    return Taught(
        colours.substrate, colours.inks, colours.overprints, (), "by layout and shape", len(seen)
    )


def _check_colours_known(sheet: Sheet, job: Job) -> None:
    """Refuse to look for an ink of which nothing is known."""
    problems = [
        Problem(
            name,
            "shows nowhere alone in these frames, and the job says nothing of its colour",
            "teach from a print where it shows, or give its colour as lab or srgb",
        )
        for name in without_colour(job)
    ]
    if problems:
        raise BadFrames(sheet.folder, problems)


def _check_all_found(sheet: Sheet, seen: Sequence[Seen]) -> None:
    """Refuse to teach half a job."""
    inks = [s.ink for s in sheet.job.press.stations if sheet.job.ink(s.ink).measurable]
    problems = [problem for ink in inks for problem in _not_found(ink, seen)]
    if problems:
        raise BadFrames(sheet.folder, problems)


def _not_found(ink: str, seen: Sequence[Seen]) -> Iterator[Problem]:
    marks = [mark for one in seen for mark in one.frame.marks if mark.ink == ink]
    usable = sum(mark.status != "missing" for mark in marks)
    sets = [inks for one in seen for inks in one.colours.inks if ink in inks]
    if usable < max(1.0, ENOUGH * len(marks)):
        what = f"was found in {usable} of {len(marks)} frames"
        cure = "give frames that show it whole, or remove its mark or the ink from the job"
        yield Problem(ink, what, cure)
    elif not sets:
        what = "is printed, but its print does not fit its mark's shape well enough to be read"
        yield Problem(ink, what, "check the shape and size of its mark in the job")
    elif frozenset({ink}) not in sets:
        what = "shows nowhere alone: other inks cover all of its mark"
        cure = "teach from a print where it shows, or give its colour as lab or srgb"
        yield Problem(ink, what, cure)
