"""Jobs that go with the pages: an invented press, inks with published colours."""

from collections.abc import Mapping, Sequence

from outside.camera import Optics
from outside.colours import Inks, Solid
from outside.page import Lie
from outside.plates import PX_MM
from regscan.camera.camera import Camera
from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import MarkDesign


def job_of(
    marks: Sequence[MarkDesign], labs: Mapping[str, tuple[float, float, float]], reference: str
) -> Job:
    """One station per ink in the order of `labs`; `labs` also names "paper"."""
    inks = tuple(name for name in labs if name != "paper")
    stations = tuple(Station(k, ink, 1.0 if k > 1 else 0.0) for k, ink in enumerate(inks, start=1))
    return Job(
        name="Honey jar, outside pages",
        press=Press("Press 2", 304.8, 330.0, stations),
        inks=tuple(Ink(ink, Colour("lab", labs[ink])) for ink in inks),
        substrate=Colour("lab", labs["paper"]),
        reference=reference,
        marks=tuple(marks),
        tolerance=Tolerance(0.1, 0.1, "house rule"),
    )


def process_labs(solids: Mapping[Inks, Solid]) -> dict[str, tuple[float, float, float]]:
    """Lab of paper and of the inks whose combinations `solids` holds, single inks only."""
    labs = {"".join(inks): solid.lab for inks, solid in solids.items() if len(inks) == 1}
    order = ("yellow", "magenta", "cyan", "black")
    return {"paper": solids[frozenset()].lab} | {ink: labs[ink] for ink in order}


def camera_of(lie: Lie, optics: Optics) -> Camera:
    """The camera file's record for a page taken straight from above."""
    return Camera(PX_MM, PX_MM, lie.web_travel, lie.drive_side, lie.turn_deg, optics.tone)
