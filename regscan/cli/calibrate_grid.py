"""From frames of a grid to a camera file, its residuals and their picture."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from regscan.cli.given import beside
from regscan.cli.results import default_out

if TYPE_CHECKING:
    from regscan.camera.camera import Camera
    from regscan.instrument.calibration import Calibration
    from regscan.instrument.plate import Plate

NAMES = ("residuals.csv", "residuals.svg", "camera.toml")


@dataclass(frozen=True, slots=True)
class GridAsked:
    """The command's arguments."""

    frames: tuple[Path, ...]
    checks: tuple[Path, ...]
    plate: "Plate"
    camera: Path | None
    out: Path | None


def calibrate_grid(asked: GridAsked) -> None:
    """Fit, write camera.toml, residuals.csv and residuals.svg together, say what came out."""
    given = _given(asked)

    from regscan.cli.calibrate_tables import show_calibration
    from regscan.cli.installation import check_cv2
    from regscan.cli.results import new_results
    from regscan.cli.screen import frame_progress, say
    from regscan.instrument.calibrate import Views, calibrate
    from regscan.recording.sources import open_recording

    say(check_cv2())
    recording = open_recording(asked.frames)
    checks = open_recording(asked.checks).sources if asked.checks else ()
    views = Views(recording.sources, checks, recording.folder)
    out = asked.out or default_out(asked.frames)
    with new_results(out, NAMES) as draft:
        with frame_progress() as progress:
            found = calibrate(views, asked.plate, given, progress)
        _write(found, draft)
    show_calibration(found, out)


def _given(asked: GridAsked) -> "Camera | None":
    from regscan.camera.read import read_camera

    own = beside(asked.frames) / "camera.toml"
    path = asked.camera or (own if own.exists() else None)
    return read_camera(path) if path else None


def _write(found: "Calibration", folder: Path) -> None:
    from regscan.camera.read import write_camera
    from regscan.instrument.residual_picture import residual_svg
    from regscan.instrument.residual_table import residual_csv
    from regscan.wholefile import write_whole

    write_whole(folder / "residuals.csv", residual_csv(found))
    write_whole(folder / "residuals.svg", residual_svg(found))
    write_camera(found.camera, folder / "camera.toml")
