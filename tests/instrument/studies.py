"""Gauge studies drawn by the simulator: positions, set-ups that turn the camera, trials."""

import csv

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from regscan.simulator.write import encode
from tests.marks.conftest import six_colours

JOB: Job = six_colours()
LOOK = Look(sensor=Sensor(noise_grey=3.0))


def draw_study(folder, *, parts=3, turns_deg=(0.0, 0.05), trials=2, spread_mm=0.02):
    """Frames and study.csv; position p is printed off by its own offsets, set-up s is turned.

    The picture is turned about the reference mark, while the camera file knows of no turn:
    a set-up error that grows with the way from the reference.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(5)
    rows = []
    for p in range(parts):
        off = {ink.name: tuple(spread_mm * rng.standard_normal(2)) for ink in JOB.inks}
        off["black"] = (0.0, 0.0)
        for s, turn in enumerate(turns_deg):
            camera = Camera(0.012, 0.012, rotation_deg=turn)
            for t in range(trials):
                name = f"p{p + 1}_{'AB'[s] if s < 2 else s}_{t + 1}.png"
                seed = 1000 * p + 100 * s + t
                frame, _ = draw_frame(JOB, camera, off, LOOK, Shot(420, 560, seed=seed))
                (folder / name).write_bytes(encode(frame.pixels, "png"))
                rows.append((name, f"{p + 1}", f"{'AB'[s] if s < 2 else s}", t + 1))
    write_study(folder / "study.csv", rows)
    return rows


def write_study(path, rows, header=("frame", "position", "setup", "trial")):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([header, *rows])


def draw_standing(folder, frames=12, creep_um=0.0):
    """Repeats of one web; creep moves cyan along by so much from the first frame to the last."""
    folder.mkdir(parents=True, exist_ok=True)
    for k in range(frames):
        off = {"cyan": (creep_um / 1000.0 * k / max(frames - 1, 1), 0.0)}
        frame, _ = draw_frame(JOB, Camera(0.012, 0.012), off, LOOK, Shot(420, 560, seed=k))
        (folder / f"{k:03d}.png").write_bytes(encode(frame.pixels, "png"))


JOB_TOML = """format = 1
name = "Honey jar, six colours"
reference = "black"
[press]
name = "Press 2"
repeat_mm = 304.8
web_width_mm = 330.0
{stations}
[substrate]
lab = [95.0, 0.0, -2.0]
{inks}
{marks}
[tolerance]
circumferential_mm = {tolerance}
lateral_mm = {tolerance}
source = "house rule"
"""


def write_job(folder, tolerance=0.1):
    """job.toml and camera.toml of JOB."""
    stations, inks, marks = [], [], []
    shapes = {
        "Disc": "disc", "Ring": "ring", "Square": "square", "Cross": "cross",
        "Triangle": "triangle", "Diamond": "diamond",
    }  # fmt: skip
    for k, ink in enumerate(JOB.inks):
        stations.append(f'[[press.stations]]\nink = "{ink.name}"' + ("\npath_m = 1.0" if k else ""))
        inks.append(f"[inks.{ink.name}]\nlab = {[float(v) for v in ink.colour.values]}")
    for mark in JOB.marks:
        kind = type(mark.shape)
        lines = [f"{key} = {getattr(mark.shape, key)}" for key in kind.__dataclass_fields__]
        at = [mark.circumferential_mm, mark.lateral_mm]
        head = f'[[marks]]\nink = "{mark.ink}"\nshape = "{shapes[kind.__name__]}"'
        marks.append("\n".join([head, f"at_mm = {at}", *lines]))
    parts = ("\n".join(stations), "\n".join(inks), "\n".join(marks))
    text = JOB_TOML.format(stations=parts[0], inks=parts[1], marks=parts[2], tolerance=tolerance)
    (folder / "job.toml").write_text(text, encoding="utf-8")
    (folder / "camera.toml").write_text(
        'format = 1\nmm_per_px = 0.012\nweb_travel = "up"\ndrive_side = "right"\n', encoding="utf-8"
    )
