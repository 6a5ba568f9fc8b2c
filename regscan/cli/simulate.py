"""regscan simulate: draw frames of known truth."""

import math
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

if TYPE_CHECKING:
    from regscan.job.job import Job as JobFile
    from regscan.simulator.press.faults.fault import Fault
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
Faults = Annotated[
    list[str] | None,
    typer.Option(
        "--fault",
        help="A named fault in place of the scenario's own, such as 'backlash station=2"
        " size_mm=0.05'; may be given several times. Names: docs/how/press_model.md.",
        metavar="'NAME KEY=VALUE ...'",
    ),
]
Layout = Annotated[
    Literal["gripped", "outfeed", "infeed"],
    typer.Option("--layout", help="Which nips meter the web: all stations', or only that one."),
]
Table = Annotated[
    bool,
    typer.Option(
        "--table", help="Write offsets.csv, speed_log.csv and job.toml; draw no pictures."
    ),
]
MarkNoise = Annotated[
    float,
    typer.Option(
        "--mark-noise-um",
        min=0.0,
        max=1000.0,
        help="With --table: sd of measuring one mark, um on the web.",
    ),
]


def simulate(
    job: Job = None,
    camera: Camera = None,
    out: Out = None,
    scenario: Name = "ramp",
    frames: Frames = None,
    seed: Seed = 1,
    noise: Noise = 1.2,
    image: Image = "png",
    fault: Faults = None,
    layout: Layout = "gripped",
    table: Table = False,
    mark_noise_um: MarkNoise = 2.0,
) -> None:
    """Draw frames of known truth, with their job, clock and truth in one folder."""
    from regscan.simulator.example import given
    from regscan.simulator.press.machine import LAYOUTS
    from regscan.simulator.scenario import Wish
    from regscan.simulator.scenarios import SCENARIOS, USUAL_FRAMES
    from regscan.simulator.write import write_scenario
    from regscan.simulator.write_table import write_table_of

    for name, value in (("--noise", noise), ("--mark-noise-um", mark_noise_um)):
        if math.isnan(value):
            raise typer.BadParameter("is not a number", param_hint=name)
    files = given(job, camera)
    faults = _faults(fault or [], files.job, scenario)
    count = frames or USUAL_FRAMES[scenario]
    wish = Wish(count, seed, noise, image, faults, LAYOUTS[layout])
    run = SCENARIOS[scenario](files.job, files.camera, wish)
    folder = out or Path(f"simulated-{scenario}")
    command = _command(scenario, wish, job, camera)
    if faults:
        command += f" --layout {layout}"
    if table:
        command += f" --table --mark-noise-um {mark_noise_um:g}"
        write_table_of(run, files, folder, command, mark_noise_um)
    else:
        from regscan.cli.screen import frame_progress

        with frame_progress("Drawing frames") as progress:
            write_scenario(run, files, folder, command, progress)
    what = "offsets of" if table else ""
    typer.echo(f"{what} {len(run.shots)} frames and their truth: {folder}".strip())


def _faults(words: list[str], job: "JobFile", scenario: str) -> tuple["Fault", ...]:
    """The faults asked for; wrong usage where there is no such fault or station."""
    from regscan.simulator.press.faults.parse import parse_fault
    from regscan.simulator.press.machine import machine_of

    if words and scenario == "first-print":
        said = "first-print has no run in which anything could happen"
        raise typer.BadParameter(said, param_hint="--fault")
    try:
        faults = tuple(parse_fault(text) for text in words)
        for one in faults:
            one.check(machine_of(job))
    except ValueError as problem:
        raise typer.BadParameter(str(problem), param_hint="--fault") from None
    return faults


def _command(scenario: str, wish: "Wish", job: Path | None, camera: Path | None) -> str:
    """The command that draws the same frames again."""
    from regscan.simulator.press.faults.parse import in_words

    parts = ["regscan simulate"]
    parts += [f"--job {job.name}"] if job else []
    parts += [f"--camera {camera.name}"] if camera else []
    parts += [f"--scenario {scenario}", f"--frames {wish.frames}", f"--seed {wish.seed}"]
    parts += [f"--noise {wish.noise_grey:g}", f"--image {wish.image}"]
    parts += [f"--fault {shlex.quote(in_words(fault))}" for fault in wish.faults]
    return " ".join(parts)
