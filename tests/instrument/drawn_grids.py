"""Frames of grids as files, for the tests of calibration: drawn once, used by many."""

from pathlib import Path

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.calibrate import Views, calibrate
from regscan.instrument.calibration import Calibration
from regscan.instrument.plate import Plate
from regscan.recording.sources import open_recording
from regscan.simulator.look import Lens, Look, Sensor, Shot
from regscan.simulator.target import Target, draw_target
from tests.instrument.grid.nodes import CAMERA, SIZE

DOTS = Target(0.5, 16, 20, dot_mm=0.25, missing=0.03, dust=40)
PLATE = Plate(0.5, dot_mm=0.25)
USUAL = Look(lens=Lens(blur_px=1.0, vignette_grey=20.0), sensor=Sensor(noise_grey=2.0))
MONO = Look(lens=Lens(blur_px=1.0), sensor=Sensor(noise_grey=2.0, mono=True))
SMALL = (240, 320)


def draw(folder: Path, name: str, target: Target = DOTS, **how) -> Path:
    """One frame of a target as a PNG file.

    how   camera, look, and what a Shot takes.
    """
    camera, look = how.pop("camera", CAMERA), how.pop("look", USUAL)
    rows, cols = how.pop("size", SIZE)
    frame, _ = draw_target(target, camera, look, Shot(rows, cols, **how))
    return save(folder, name, frame.pixels)


def save(folder: Path, name: str, pixels: np.ndarray) -> Path:
    """Pixels (R, G, B or grey) as a PNG file."""
    path = folder / name
    assert cv2.imwrite(str(path), pixels[..., ::-1] if pixels.ndim == 3 else pixels)
    return path


def calibrated(
    paths: list[Path],
    plate: Plate = PLATE,
    given: Camera | None = None,
    checks: tuple[Path, ...] = (),
) -> Calibration:
    """The calibration of these files."""
    proofs = open_recording(checks).sources if checks else ()
    recording = open_recording(paths)
    return calibrate(Views(recording.sources, proofs, recording.folder), plate, given)
