"""regscan calibrate: a camera from frames of a grid; or the proof of its directions."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from regscan.cli.options import JobFile, OutFolder

Frames = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="[FRAMES...]",
        help="Pictures of the grid, or folders; in the first it lies along the web's travel.",
    ),
]
Pitch = Annotated[
    float | None,
    typer.Option("--pitch-mm", help="Distance of the grid's nodes, middle to middle."),
]
Kind = Annotated[
    Literal["dots", "chessboard"],
    typer.Option("--grid", help="What the grid is; a chessboard's pitch is a square's side."),
]
Dot = Annotated[
    float | None,
    typer.Option("--dot-mm", help="Diameter of a dot: one more check that the pitch is right."),
]
GridCamera = Annotated[
    Path | None,
    typer.Option(
        "--camera",
        metavar="FILE",
        help="The camera file so far, for how the picture lies. Default: camera.toml beside"
        " the frames, where there is one.",
    ),
]
Check = Annotated[
    list[Path] | None,
    typer.Option(
        "--check",
        metavar="FRAME",
        help="A frame kept out of the fit, to prove it. May be repeated.",
    ),
]
LengthSd = Annotated[
    float,
    typer.Option("--length-sd-ppm", min=0.0, help="How well the grid's lengths are known, one sd."),
]
TurnSd = Annotated[
    float,
    typer.Option(
        "--turn-sd-deg", min=0.0, help="How well the grid lies along the web's travel, one sd."
    ),
]
Squared = Annotated[
    bool,
    typer.Option(
        "--squared/--not-squared",
        help="Take the rotation from the first frame's grid, or keep that of the camera file.",
    ),
]
BeforeAfter = Annotated[
    tuple[Path, Path] | None,
    typer.Option(
        "--direction",
        metavar="BEFORE AFTER",
        help="Instead: frames before and after one colour was moved by a known step.",
    ),
]
InkName = Annotated[str, typer.Option("--ink", help="With --direction: the colour that was moved.")]
Moved = Annotated[
    str,
    typer.Option(
        "--moved",
        help='With --direction: how, in mm: "advance 0.10", "retard 0.1", "operator 0.1",'
        ' "drive 0.1", or one of each with a comma.',
    ),
]


def calibrate(
    frames: Frames = None,
    pitch_mm: Pitch = None,
    grid: Kind = "dots",
    dot_mm: Dot = None,
    camera: GridCamera = None,
    check: Check = None,
    length_sd_ppm: LengthSd = 0.0,
    turn_sd_deg: TurnSd = 0.0,
    squared: Squared = True,
    direction: BeforeAfter = None,
    ink: InkName = "",
    moved: Moved = "",
    job: JobFile = None,
    out: OutFolder = None,
) -> None:
    """Calibrate a camera on a grid, or prove its directions.

    From frames of a grid: pixel size, rotation, distortion and lateral colour, with their doubt.
    With --direction: sign, side and size of a known step, stored in the camera file."""
    if direction is not None:
        from regscan.cli.calibrate_direction import DirectionAsked, check_direction

        if frames or pitch_mm is not None or not ink or not moved:
            raise typer.BadParameter(
                "--direction goes with --ink, --moved, --job and --camera, without FRAMES"
            )
        check_direction(DirectionAsked(*direction, job, camera, ink, moved, out))
        return
    if not frames or pitch_mm is None:
        raise typer.BadParameter("give FRAMES and --pitch-mm, or --direction BEFORE AFTER")
    from regscan.cli.calibrate_grid import GridAsked, calibrate_grid
    from regscan.instrument.plate import Plate

    _check_lengths(pitch_mm, dot_mm)
    plate = Plate(pitch_mm, grid, dot_mm, length_sd_ppm, turn_sd_deg, squared)
    calibrate_grid(GridAsked(tuple(frames), tuple(check or ()), plate, camera, out))


def _check_lengths(pitch_mm: float, dot_mm: float | None) -> None:
    """Lengths that cannot be a grid's; NaN is none either."""
    if not 0.01 <= pitch_mm <= 100.0:
        raise typer.BadParameter("must be 0.01 to 100", param_hint="--pitch-mm")
    if dot_mm is not None and not 0.0 < dot_mm < pitch_mm:
        raise typer.BadParameter(
            "must be more than 0 and less than the pitch", param_hint="--dot-mm"
        )
