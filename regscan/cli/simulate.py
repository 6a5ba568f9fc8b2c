"""regscan simulate: draw frames of known truth."""

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from regscan.simulator.scenario import Wish

Job = Annotated[
    Path | None,
    typer.Option("--job", help="Job file. Default: an invented six-colour job.", metavar="FILE"),
]
Camera = Annotated[
    Path | None,
    typer.Option("--camera", help="Camera file. Default: 12 um per pixel.", metavar="FILE"),
]
Out = Annotated[
    Path | None,
    typer.Option("--out", help="New folder. Default: simulated-SCENARIO.", metavar="DIR"),
]
Name = Annotated[
    Literal["ramp", "first-print", "calm"],
    typer.Option(
        "--scenario",
        help="ramp: 150 to 50 to 150 m/min twice, two stations misbehave; first-print: colours"
        " far off; calm: steady and in register.",
    ),
]
Frames = Annotated[
    int | None,
    typer.Option("--frames", min=1, max=100_000, help="Default: 132, 1 and 30 frames."),
]
Seed = Annotated[
    int, typer.Option("--seed", min=0, help="Another seed is another run; the same, the same.")
]
Noise = Annotated[
    float,
    typer.Option("--noise", min=0.0, max=60.0, help="Sensor noise, sd in grey levels of 255."),
]
Image = Annotated[Literal["png", "jpg"], typer.Option("--image", help="File format of the frames.")]


def simulate(
    job: Job = None,
    camera: Camera = None,
    out: Out = None,
    scenario: Name = "ramp",
    frames: Frames = None,
    seed: Seed = 1,
    noise: Noise = 1.2,
    image: Image = "png",
) -> None:
    """Draw frames of known truth, with their job, clock and truth in one folder."""
    from regscan.simulator.example import given
    from regscan.simulator.scenario import Wish
    from regscan.simulator.scenarios import SCENARIOS, USUAL_FRAMES
    from regscan.simulator.write import write_scenario

    if math.isnan(noise):
        raise typer.BadParameter("is not a number", param_hint="--noise")
    files = given(job, camera)
    wish = Wish(frames or USUAL_FRAMES[scenario], seed, noise, image)
    run = SCENARIOS[scenario](files.job, files.camera, wish)
    folder = out or Path(f"simulated-{scenario}")
    write_scenario(run, files, folder, _command(scenario, wish, job, camera), _tell)
    typer.echo(f"{len(run.shots)} frames and their truth: {folder}")


def _tell(done: int, total: int) -> None:
    if done % 20 == 0 or done == total:
        typer.echo(f"drawn {done} of {total}", err=True)


def _command(scenario: str, wish: "Wish", job: Path | None, camera: Path | None) -> str:
    """The command that draws the same frames again."""
    parts = ["regscan simulate"]
    parts += [f"--job {job.name}"] if job else []
    parts += [f"--camera {camera.name}"] if camera else []
    parts += [f"--scenario {scenario}", f"--frames {wish.frames}", f"--seed {wish.seed}"]
    parts += [f"--noise {wish.noise_grey:g}", f"--image {wish.image}"]
    return " ".join(parts)
