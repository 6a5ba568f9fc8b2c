"""Calibrate: frames of a grid of known pitch to a camera with its lens, doubt and evidence.

The order of work: find the grid in every frame -> refuse what cannot tell -> fit plane
and lens -> fit red and blue -> doubt -> hold the check frames against it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from regscan.camera.camera import Camera
from regscan.errors import BadFrames, Problem
from regscan.instrument.calibration import Calibration
from regscan.instrument.grid.assemble import camera_of, fitted, held_against, with_proof
from regscan.instrument.grid.fit import fit_grids
from regscan.instrument.grid.found import GridFit
from regscan.instrument.grid.look import Nothing, look_at
from regscan.instrument.grid.refuse import fit_problems, grid_problems, proof_problems
from regscan.instrument.grid.rounded import rounded
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.plate import Plate
from regscan.recording.sources import FrameSource, read_frame

Progress = Callable[[int, int], None]  # (frames done, frames in all)


@dataclass(frozen=True)
class Views:
    """The frames to calibrate from.

    sources   in order; the first one's grid lies in the web's plane, its lines along the travel.
    checks    frames of the same grid that only prove the result.
    folder    what to call them all in a message.
    """

    sources: Sequence[FrameSource]
    checks: Sequence[FrameSource]
    folder: str


def calibrate(
    views: Views, plate: Plate, given: Camera | None, progress: Progress = lambda done, total: None
) -> Calibration:
    """The camera that took these frames.

    given   the camera as known so far: its directions, tone and mosaic are kept, its pixel
            size must agree with the pitch. None: web travel up, drive side right, unproven.

    Raises BadFrames, with all problems found, when the frames cannot tell.
    """
    like = given or Camera(1.0, 1.0)
    look = _Looker(like, plate, len(views.sources) + len(views.checks), progress)
    grids, aside = look(views.sources)
    checks, unproving = look(views.checks, grids)
    _refuse(views, [*unproving, *([] if grids else aside)])
    _refuse(views, grid_problems(grids, plate, given), aside)
    fit = fit_grids(grids, plate.pitch_mm, like)
    _refuse(views, fit_problems(fit), aside)
    camera, parted = camera_of(fit, plate, like)
    proofs, proven = held_against(checks, camera, plate)
    _refuse(views, [p for proof in proofs for p in proof_problems(proof, fit.rms_px, camera)])
    return Calibration(
        camera=rounded(with_proof(camera, proven)),
        plate=plate,
        frames=(*fitted(fit, parted), *proven),
        rms_px=fit.rms_px,
        askew=not fit.layout.one_plane,
        proofs=tuple(proofs),
        notes=tuple(_notes(fit, aside, given, plate)),
    )


def _refuse(views: Views, problems: Sequence[Problem], more: Sequence[Problem] = ()) -> None:
    """Raise when there is a problem; what else was odd may be the reason, so it is told too."""
    if problems:
        raise BadFrames(views.folder, [*problems, *more])


@dataclass(frozen=True)
class _Looker:
    """Reads frames one after the other; their pixels are not kept."""

    like: Camera
    plate: Plate
    total: int
    progress: Progress

    def __call__(
        self, sources: Sequence[FrameSource], others: Sequence[SeenGrid] = ()
    ) -> tuple[list[SeenGrid], list[Problem]]:
        """The grids of frames as large as the first of all, and why other frames show none."""
        grids: list[SeenGrid] = []
        problems: list[Problem] = []
        for number, source in enumerate(sources):
            try:
                seen = look_at(read_frame(source), self.like, self.plate.kind)
            except BadFrames as bad:
                name, why = source.info.name, bad.problems[0]
                seen = Nothing(name, Problem(name, why.what, why.cure))
            size = next((grid.size for grid in (*others, *grids)), None)
            if isinstance(seen, Nothing):
                problems.append(seen.problem)
            elif size and seen.size != size:
                problems.append(_odd_size(seen, size))
            else:
                grids.append(seen)
            self.progress(number + 1, self.total)
        return grids, problems


def _odd_size(grid: SeenGrid, size: tuple[int, int]) -> Problem:
    what = f"is {grid.size[1]} x {grid.size[0]} pixels, the others are {size[1]} x {size[0]}"
    return Problem(grid.frame, what, "calibrate each frame size by itself")


def _notes(fit: GridFit, aside: Sequence[Problem], given: Camera | None, plate: Plate) -> list[str]:
    notes = [f"{p.place}: {p.what}; not used" for p in aside]
    if given is None:
        notes.append(
            "no camera file was given: web_travel = up and drive_side = right are a guess;"
            " correct them in the file, then check the direction"
        )
    if not fit.layout.one_plane:
        notes.append(
            "the grid was held askew in some frames: pixel size and rotation come from"
            f" {fit.grids[0].frame} alone, which must lie in the web's plane"
        )
    if plate.squared and plate.turn_sd_deg == 0.0:
        notes.append(
            f"rotation is that of the grid in {fit.grids[0].frame}: true as far as its lines lie"
            " along the web's travel (--turn-sd-deg puts that into the doubt)"
        )
    if plate.length_sd_ppm == 0.0:
        notes.append(
            "the pitch is taken as exact (--length-sd-ppm puts its doubt into the scale's)"
        )
    return notes
