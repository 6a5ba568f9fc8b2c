"""A run of tiny frames: three colours, 120 x 168 pixels, so that measuring one costs little."""

from pathlib import Path

import cv2

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot

ROWS, COLS = 120, 168
INKS = ("cyan", "magenta", "black")

JOB = """
format = 1
name = "Honey jar, three colours"
reference = "black"
[press]
name = "Press 2"
repeat_mm = 304.8
web_width_mm = 330.0
[[press.stations]]
ink = "cyan"
[[press.stations]]
ink = "magenta"
path_m = 1.0
[[press.stations]]
ink = "black"
path_m = 1.0
[substrate]
lab = [95.0, 0.0, -2.0]
[inks.cyan]
lab = [55.0, -37.0, -50.0]
[inks.magenta]
lab = [48.0, 74.0, -3.0]
[inks.black]
lab = [16.0, 0.0, 0.0]
[[marks]]
ink = "cyan"
shape = "disc"
diameter_mm = 0.5
at_mm = [0.0, -0.9]
[[marks]]
ink = "magenta"
shape = "square"
side_mm = 0.5
at_mm = [0.0, 0.0]
[[marks]]
ink = "black"
shape = "cross"
size_mm = 0.5
stroke_mm = 0.18
at_mm = [0.0, 0.9]
[tolerance]
circumferential_mm = 0.1
lateral_mm = 0.1
source = "house rule"
"""

CAMERA = 'format = 1\nmm_per_px = 0.02\nweb_travel = "up"\ndrive_side = "right"\n'


def draw_tiny_run(
    folder: Path, frames: int, different: int = 8, side: tuple[int, int] = (ROWS, COLS)
) -> Path:
    """A folder of a run with its job, camera and clock; `different` pictures, over and over.

    side   rows and columns of each.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.toml").write_text(JOB)
    (folder / "camera.toml").write_text(CAMERA)
    pictures = [_picture(folder, seed, side) for seed in range(min(different, frames))]
    lines = ["frame,time_s,web_m,speed_m_min"]
    for k in range(frames):
        name = f"{k:06d}.png"
        (folder / name).write_bytes(pictures[k % len(pictures)])
        lines.append(f"{name},{k * 0.5},{k * 1.25},150")
    (folder / "frames.csv").write_text("\n".join(lines) + "\n")
    return folder


def _picture(folder: Path, seed: int, side: tuple[int, int]) -> bytes:
    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    look = Look(sensor=Sensor(noise_grey=2.0))
    offsets = {"cyan": (0.01 * (seed % 5), -0.02), "magenta": (-0.03, 0.005 * seed)}
    frame, _ = draw_frame(job, camera, offsets, look, Shot(*side, seed=seed))
    done, data = cv2.imencode(".png", frame.pixels[..., ::-1])
    assert done
    return data.tobytes()
