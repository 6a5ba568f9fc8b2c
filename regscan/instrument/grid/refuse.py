"""Refuse: what a calibration cannot be made from, said with what is missing."""

from collections.abc import Sequence

import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import Problem
from regscan.instrument.calibration import Proof
from regscan.instrument.grid.found import GridFit
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.plate import Plate

FEWEST = 30  # nodes in all frames together
FIELDS = 4  # the frame is looked at in so many fields per axis
COVERED = 0.55  # of the fields must show a node
PITCH_OFF = 0.1  # of the pitch: a pixel size noted by hand is better than this
DOT_OFF = 0.3  # of the dot's share of the pitch: dot gain makes less of it
REGULAR_PX = 0.6  # residuals larger than this, and than this share of the pitch, are no lens's
REGULAR_SHARE = 0.02
PROVEN_TIMES, PROVEN_PX = 3.0, 0.05  # residual of a check frame, against that of the fit
PROVEN_SDS, PROVEN_PPM = 4.0, 300.0  # and its scale


def grid_problems(grids: Sequence[SeenGrid], plate: Plate, given: Camera | None) -> list[Problem]:
    """What keeps these grids from telling a lens and a scale; empty when nothing does."""
    return [*_too_few(grids), *_not_covered(grids), *_other_pitch(grids, plate, given),
            *_other_dots(grids, plate)]  # fmt: skip


def _too_few(grids: Sequence[SeenGrid]) -> list[Problem]:
    count = sum(len(grid.nodes) for grid in grids)
    if count >= FEWEST:
        return []
    frames = f"{len(grids)} frame{'' if len(grids) == 1 else 's'}"
    what = f"only {count} nodes in {frames}, {FEWEST} are needed"
    return [Problem("grid", what, "use a finer grid, or give more frames of it")]


def _not_covered(grids: Sequence[SeenGrid]) -> list[Problem]:
    """Where no node lies, the lens would be guessed."""
    seen = np.zeros((FIELDS, FIELDS), bool)
    for grid in grids:
        fields = grid.places / np.array(grid.size) * FIELDS
        rows, cols = np.clip(fields.astype(int), 0, FIELDS - 1).T
        seen[rows, cols] = True
    half = FIELDS // 2
    halves = {
        "the upper half": seen[:half],
        "the lower half": seen[half:],
        "the left half": seen[:, :half],
        "the right half": seen[:, half:],
    }
    empty = [name for name, part in halves.items() if part.mean() < COVERED / 2.0]
    if seen.mean() >= COVERED and not empty:
        return []
    where = f"; {' and '.join(empty)} shows hardly any" if empty else ""
    what = f"the grid covers only {seen.mean():.0%} of the frame{where}"
    cure = "lay the grid over the whole field, or give more frames with the grid elsewhere in it"
    return [Problem("grid", what, cure)]


def _other_pitch(grids: Sequence[SeenGrid], plate: Plate, given: Camera | None) -> list[Problem]:
    if given is None:
        return []
    pitch_px = float(np.median([grid.pitch_px for grid in grids]))
    seems_mm = pitch_px * given.mm_per_px
    if abs(seems_mm / plate.pitch_mm - 1.0) <= PITCH_OFF:
        return []
    what = (
        f"nodes lie {pitch_px:.1f} px apart, which is {seems_mm:.3g} mm at the camera file's"
        f" {given.mm_per_px:.4g} mm/px, and not {plate.pitch_mm:g} mm"
    )
    cure = "give the grid's true --pitch-mm, or mend mm_per_px in the camera file"
    return [Problem("--pitch-mm", what, cure)]


def _other_dots(grids: Sequence[SeenGrid], plate: Plate) -> list[Problem]:
    if plate.dot_mm is None or plate.kind != "dots":
        return []
    share = float(np.median([grid.dot_px / grid.pitch_px for grid in grids]))
    if abs(share / (plate.dot_mm / plate.pitch_mm) - 1.0) <= DOT_OFF:
        return []
    what = (
        f"dots are {share:.2f} of their distance wide, and not {plate.dot_mm:g} /"
        f" {plate.pitch_mm:g} = {plate.dot_mm / plate.pitch_mm:.2f} of it"
    )
    cure = "give the grid's true --pitch-mm (middle to middle) and --dot-mm"
    return [Problem("--dot-mm", what, cure)]


def fit_problems(fit: GridFit) -> list[Problem]:
    """What a fit says against the grid."""
    pitch = float(np.median([grid.pitch_px for grid in fit.grids]))
    limit = max(REGULAR_PX, REGULAR_SHARE * pitch)
    lost = 1.0 - float(np.mean(np.concatenate(fit.used)))
    if fit.rms_px <= limit and lost < 0.3:
        return []
    what = (
        f"the grid is not regular: its nodes lie {fit.rms_px:.2f} px from where a lens could show"
        f" them, and {lost:.0%} of them further; {limit:.2f} px are allowed"
    )
    cure = "use a grid with one pitch in both directions, flat, whole and sharp"
    return [Problem("grid", what, cure)]


def proof_problems(proof: Proof, rms_px: float, camera: Camera) -> list[Problem]:
    """What a check frame says against the calibration."""
    found = []
    limit = PROVEN_TIMES * rms_px + PROVEN_PX
    if proof.rms_px > limit:
        what = f"its residual is {proof.rms_px:.3f} px; the fit's is {rms_px:.3f} px"
        cure = (
            "lay the grid in the web's plane in every frame, and calibrate again with more frames"
        )
        found.append(Problem(proof.frame, what, cure))
    assert camera.lens is not None
    doubt = camera.lens.doubt
    sds = doubt.circumferential_scale_ppm, doubt.lateral_scale_ppm
    for axis, off, sd in zip(("circumferential", "lateral"), proof.scale_ppm, sds, strict=True):
        if abs(off) > PROVEN_SDS * sd + PROVEN_PPM:
            what = f"it is {off / 1e4:+.3f} % longer than calibrated, {axis}"
            cure = "the grid lay nearer or farther, or the camera was moved: calibrate again"
            found.append(Problem(proof.frame, what, cure))
    return found
