"""Assemble: fits of lens and colours to one camera with its doubt, and each frame's evidence."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from regscan.instrument.calibration import FrameNodes, Proof, Role, rms_length
from regscan.instrument.grid.doubt import calibration_doubt, smooth_px
from regscan.instrument.grid.found import GridFit
from regscan.instrument.grid.lateral import ColourFit, fit_colour
from regscan.instrument.grid.proof import hold_against
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.plate import Plate

Parted = dict[str, ColourFit]


def camera_of(fit: GridFit, plate: Plate, like: Camera) -> tuple[Camera, Parted]:
    """The camera with its lateral colour and doubt."""
    camera = fit.camera(like)
    assert camera.lens is not None
    parted: Parted = {}
    for name in ("red", "blue"):
        places = [getattr(grid, name) for grid in fit.grids]
        if all(p is not None for p in places):
            found = fit_colour(camera.lens, fit.grids, places)
            if found is not None:
                parted[name] = found
    doubt = calibration_doubt(fit, camera)
    doubt = replace(
        doubt,
        circumferential_scale_ppm=float(
            np.hypot(doubt.circumferential_scale_ppm, plate.length_sd_ppm)
        ),
        lateral_scale_ppm=float(np.hypot(doubt.lateral_scale_ppm, plate.length_sd_ppm)),
        rotation_deg=float(np.hypot(doubt.rotation_deg, plate.turn_sd_deg)),
        colour_px=max((_colour_doubt(fit, one) for one in parted.values()), default=0.0),
    )
    colours = {name: one.colour for name, one in parted.items()}
    lens = replace(
        camera.lens,
        red=colours.get("red", LateralColour()),
        blue=colours.get("blue", LateralColour()),
        doubt=doubt,
    )
    turn = camera.rotation_deg if plate.squared else like.rotation_deg
    return replace(camera, lens=lens, rotation_deg=turn), parted


def _colour_doubt(fit: GridFit, found: ColourFit) -> float:
    """What the shift's own fit leaves unknown, and what neighbours still have in common."""
    known = [np.isfinite(r).all(axis=1) & u for r, u in zip(found.residuals, fit.used, strict=True)]
    return float(np.hypot(found.sd_px, smooth_px(fit.nodes, found.residuals, known)))


def fitted(fit: GridFit, parted: Parted) -> list[FrameNodes]:
    """The evidence of the fit's own frames."""
    frames = []
    for k, grid in enumerate(fit.grids):
        left = {name: found.residuals[k] for name, found in parted.items()}
        frames.append(
            _frame_nodes(grid, "fit", fit.nodes[k], (fit.residuals[k], fit.used[k]), left)
        )
    return frames


def _frame_nodes(
    grid: SeenGrid,
    role: Role,
    nodes: np.ndarray,
    fitted: tuple[np.ndarray, np.ndarray],
    left: dict[str, np.ndarray],
) -> FrameNodes:
    return FrameNodes(
        frame=grid.frame,
        role=role,
        nodes=nodes,
        places=grid.places,
        residuals=fitted[0],
        used=fitted[1],
        red=None if grid.red is None else grid.red - grid.places,
        blue=None if grid.blue is None else grid.blue - grid.places,
        red_left=left.get("red"),
        blue_left=left.get("blue"),
    )


def held_against(
    grids: Sequence[SeenGrid], camera: Camera, plate: Plate
) -> tuple[list[Proof], list[FrameNodes]]:
    """The check frames held against the camera."""
    proofs, frames = [], []
    assert camera.lens is not None
    for grid in grids:
        nodes, residuals, used, scale = hold_against(grid, camera, plate.pitch_mm)
        left = _colour_left(grid, camera.lens)
        frames.append(_frame_nodes(grid, "check", nodes, (residuals, used), left))
        proofs.append(Proof(grid.frame, rms_length(residuals[used]), scale))
    return proofs, frames


def _colour_left(grid: SeenGrid, lens: Lens) -> dict[str, np.ndarray]:
    """What the lens leaves of the colours' shifts in a frame."""
    if grid.red is None or grid.blue is None:
        return {}
    row, col = grid.places.T
    return {
        name: places - grid.places - np.stack(lens.colour_shift(colour, row, col), axis=1)
        for name, places, colour in (("red", grid.red, lens.red), ("blue", grid.blue, lens.blue))
    }


def with_proof(camera: Camera, proven: Sequence[FrameNodes]) -> Camera:
    """A check frame may show more smooth bending than the fit's own frames did."""
    if not proven or camera.lens is None:
        return camera
    smooth = smooth_px(
        [f.nodes for f in proven], [f.residuals for f in proven], [f.used for f in proven]
    )
    doubt = camera.lens.doubt
    doubt = replace(doubt, residual_px=max(doubt.residual_px, smooth))
    return replace(camera, lens=replace(camera.lens, doubt=doubt))
