"""A calibration as a short table for the terminal."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import typer
from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from regscan.camera.lens import LateralColour, Lens
from regscan.instrument.calibration import Calibration, rms_length

WIDTH = 80


def show_calibration(found: Calibration, out: Path) -> None:
    """What was found, how well, and where the files lie."""
    console = Console(width=None if Console().is_terminal else WIDTH, highlight=False)
    table = Table(
        title=_title(found), title_justify="left", title_style="bold", box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0), pad_edge=False,
    )  # fmt: skip
    table.add_column("")
    table.add_column("Found", justify="right", no_wrap=True)
    table.add_column("±sd", justify="right", no_wrap=True)
    for row in _rows(found):
        table.add_row(*row)
    console.print(table)
    for line in _lines(found):
        console.print(line, markup=False)
    typer.echo(f"Camera:    {out / 'camera.toml'}")
    typer.echo(f"Residuals: {out / 'residuals.csv'}, picture: {out / 'residuals.svg'}")


def _title(found: Calibration) -> str:
    frames = found.of("fit")
    nodes = sum(int(f.used.sum()) for f in frames)
    return (
        f"{nodes} nodes in {len(frames)} frame{'' if len(frames) == 1 else 's'},"
        f" pitch {found.plate.pitch_mm:g} mm"
    )


def _rows(found: Calibration) -> Iterator[tuple[str, str, str]]:
    camera, lens = found.camera, found.camera.lens
    assert lens is not None
    doubt = lens.doubt
    yield "mm per px, rows", f"{camera.row_mm_per_px:.8f}", ""
    yield "mm per px, columns", f"{camera.col_mm_per_px:.8f}", ""
    yield "scale, circumferential", "", f"{doubt.circumferential_scale_ppm:.0f} ppm"
    yield "scale, lateral", "", f"{doubt.lateral_scale_ppm:.0f} ppm"
    yield "rotation, degrees", f"{camera.rotation_deg:.5f}", f"{doubt.rotation_deg:.5f}"
    yield "bending at the corners, px", f"{_corner_px(lens):.2f}", f"{doubt.residual_px:.4f}"
    for name, colour in (("red", lens.red), ("blue", lens.blue)):
        if any(getattr(f, f"{name}_left") is not None for f in found.frames):
            size = f"{_corner_colour_px(lens, colour):.2f}"
            yield f"{name} against green there, px", size, f"{doubt.colour_px:.4f}"


def _corner_px(lens: Lens) -> float:
    """The furthest that a corner is moved."""
    row, col = _corners(lens)
    straight = lens.straight(row, col)
    return float(np.hypot(straight[0] - row, straight[1] - col).max())


def _corner_colour_px(lens: Lens, colour: LateralColour) -> float:
    return float(np.hypot(*lens.colour_shift(colour, *_corners(lens))).max())


def _corners(lens: Lens) -> tuple[np.ndarray, np.ndarray]:
    rows, cols = lens.rows_px - 1.0, lens.cols_px - 1.0
    return np.array([0.0, 0.0, rows, rows]), np.array([0.0, cols, 0.0, cols])


def _lines(found: Calibration) -> Iterator[str]:
    frames = found.of("fit")
    strays = sum(int((~f.used).sum()) for f in frames)
    left = f", {strays} strays left out" if strays else ""
    yield f"Residual: {found.rms_px:.4f} px rms{left}"
    for name in ("red", "blue"):
        before = np.concatenate([f.parted(getattr(f, name)) for f in frames])
        after = np.concatenate([f.parted(getattr(f, f"{name}_left")) for f in frames])
        if len(after):
            sizes = rms_length(before), rms_length(after)
            yield f"{name.capitalize()}: {sizes[0]:.4f} px rms off green, {sizes[1]:.4f} left"
    for proof in found.proofs:
        along, across = proof.scale_ppm
        yield (
            f"Check {proof.frame}: {proof.rms_px:.4f} px rms, scale {along:+.0f} ppm"
            f" circumferential, {across:+.0f} ppm lateral"
        )
    if not found.proofs:
        yield "Not proven on a frame of its own: give one with --check"
    yield from (f"Note: {note}" for note in found.notes)
    if found.camera.direction is None:
        yield "Next: check the direction once, with regscan calibrate --direction"
