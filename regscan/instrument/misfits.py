"""What does not fit: a colour far off, inks alike, a mark of another shape or place."""

from collections.abc import Iterator
from itertools import combinations

from regscan.instrument.delta_e import difference
from regscan.instrument.taught import Taught, TaughtMark
from regscan.instrument.taught_colours import Learnt
from regscan.job.job import AXES, Job

# Common practice, no source, in CIEDE2000 units: from 10 on nobody calls two colours the
# same ink; below 5 a camera may take one for the other; 2 is a steady print.
FAR_OFF = 10.0
ALIKE = 5.0
UNSTEADY = 2.0
AREA_LOW, AREA_HIGH = 0.8, 1.25
OVEREXPOSED = 0.02
OTHER_SHAPE = 0.05  # of the design's area


def misfits(taught: Taught, job: Job, learnt: Learnt) -> Iterator[str]:
    """Sentences, most important first."""
    yield from _exposure(learnt)
    yield from _colours_off(taught, job, learnt)
    yield from _alike(learnt)
    yield from _unsteady(taught, learnt)
    for mark in taught.marks:
        yield from _mark(mark, job)
    yield from _overprints(taught, job)
    if taught.frames == 1:
        yield (
            "one frame only: how much the print moves and changes from frame to frame is not"
            " known, so the doubt given is that of measuring alone"
        )


def _exposure(learnt: Learnt) -> Iterator[str]:
    if learnt.overexposed > OVEREXPOSED:
        yield (
            f"the bare substrate is overexposed in {learnt.overexposed:.0%} of its pixels:"
            " light colours are not what they seem; lower the exposure and teach again"
        )


def _colours_off(taught: Taught, job: Job, learnt: Learnt) -> Iterator[str]:
    if _mono(learnt):  # what one grey channel should see of a colour is only roughly known
        return
    for ink, colour in taught.inks.items():
        if colour.difference is None or colour.difference <= FAR_OFF:
            continue
        line = f"{ink} is far from the job's colour ({colour.difference:.0f} CIEDE2000)"
        other = _looks_like(ink, taught, job, learnt)
        yield f"{line} and looks like {other}" if other else line
    off = taught.substrate.difference
    if off is not None and off > FAR_OFF:
        yield f"the substrate's hue is far from the job's ({off:.0f} CIEDE2000)"


def _mono(learnt: Learnt) -> bool:
    return any(len(light) == 1 for light in learnt.over_substrate.values())


def _looks_like(ink: str, taught: Taught, job: Job, learnt: Learnt) -> str:
    """Another ink of the job whose given colour this one has; "" for none."""
    from regscan.marks.seeing.inks import colour_light

    mine = learnt.over_substrate[ink]
    if job.substrate.values is None:
        return ""
    own = taught.inks[ink].difference or 0.0
    paper = colour_light(job.substrate)
    gaps = {
        other.name: difference(
            mine * learnt.paper, colour_light(other.colour) / paper * learnt.paper
        )
        for other in job.inks
        if other.name != ink and other.colour and other.colour.values is not None
    }
    near = min(gaps, key=lambda name: gaps[name], default="")
    return near if near and gaps[near] < 0.5 * own else ""


def _alike(learnt: Learnt) -> Iterator[str]:
    if _mono(learnt):
        yield "one grey channel: inks are told apart by layout and shape, not by colour"
        return
    for one, other in combinations(learnt.over_substrate, 2):
        gap = difference(*(learnt.over_substrate[ink] * learnt.paper for ink in (one, other)))
        if gap < ALIKE:
            yield (
                f"{one} and {other} look alike to this camera ({gap:.1f} CIEDE2000): only shape"
                " and place tell their marks apart"
            )


def _unsteady(taught: Taught, learnt: Learnt) -> Iterator[str]:
    for ink, colour in taught.inks.items():
        if colour.spread is not None and colour.spread > UNSTEADY:
            yield f"{ink} changes from frame to frame ({colour.spread:.1f} CIEDE2000 rms)"
    for ink in sorted(learnt.thin):
        yield f"{ink}'s mark is too thin to show its colour pure: taught a little too pale"


def _mark(mark: TaughtMark, job: Job) -> Iterator[str]:
    name = f"{mark.ink} ({mark.edge} edge)" if mark.edge else mark.ink
    if mark.shown == 0:
        yield f"no frame shows {name}: its place on the sheet was not learnt"
    elif mark.frames == 0:
        yield f"{name} was good in no frame: its place on the sheet was not learnt"
    elif mark.frames < mark.shown:
        yield f"{name} was good in {mark.frames} of {mark.shown} frames"
    if mark.area_ratio is not None and not AREA_LOW <= mark.area_ratio <= AREA_HIGH:
        yield (
            f"{name}'s mark prints {mark.area_ratio:.2f} times the area of its design: check"
            " shape and size in the job, or the impression"
        )
    yield from _shape(mark, name)
    if mark.approved is None:
        return
    limit = job.tolerance_for(mark.ink)
    for axis, off in zip(
        AXES, (mark.approved.circumferential_mm, mark.approved.lateral_mm), strict=True
    ):
        if abs(off) > limit.of(axis):
            yield (
                f"{name} lies {off:+.3f} mm off the design on the approved sheet, {axis}: more"
                f" than the tolerance of {limit.of(axis):.3f} mm"
            )


def _shape(mark: TaughtMark, name: str) -> Iterator[str]:
    faults = [
        f"{share:.0%} of its area {what}"
        for share, what in (
            (mark.lacking or 0.0, "is not printed"),
            (mark.beyond or 0.0, "is printed beyond its outline"),
        )
        if share > OTHER_SHAPE
    ]
    if faults:
        yield f"{name}'s mark has another shape than its design: {' and '.join(faults)}"


def _overprints(taught: Taught, job: Job) -> Iterator[str]:
    for over in job.overprints:
        if over.inks not in taught.overprints:
            names = " on ".join(sorted(over.inks))
            yield (
                f"the overprint {names} was not seen: left out, and predicted from its inks"
                " when it is met"
            )
    for inks, colour in taught.overprints.items():
        if colour.difference is not None and colour.difference > FAR_OFF:
            names = " on ".join(sorted(inks))
            yield f"the overprint {names} is far from the job's ({colour.difference:.0f} CIEDE2000)"
