"""Write a scenario as a folder: frames, their tables, job, camera, and the truth."""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from regscan.errors import BadOutput, Problem
from regscan.simulator.chance import stream
from regscan.simulator.example import Given
from regscan.simulator.newfolder import new_folder
from regscan.simulator.scenario import Scenario
from regscan.simulator.truth_notes import truth_toml
from regscan.simulator.truth_table import TruthRow, number, truth_csv, truth_rows

JPEG_QUALITY = 95
LOG_EVERY_S = 1.0
LOG_NOISE_M_MIN = 0.2


def write_scenario(
    scenario: Scenario,
    files: Given,
    folder: Path,
    drawn_by: str,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> None:
    """Draw and write the whole run; the folder appears when everything is in it.

    folder     must not exist, or be empty.
    drawn_by   the command that draws it again, for truth.toml.
    progress   told (frames done, frames in all) after each frame.

    Raises BadOutput for a folder in use or one that cannot be written.
    """
    with new_folder(folder) as part:
        _fill(scenario, files, part, drawn_by, progress)


def _fill(
    scenario: Scenario,
    files: Given,
    part: Path,
    drawn_by: str,
    progress: Callable[[int, int], None],
) -> None:
    rows: list[TruthRow] = []
    for k, (frame, truth) in enumerate(scenario.drawn()):
        (part / frame.info.name).write_bytes(encode(frame.pixels, scenario.wish.image))
        rows += truth_rows(scenario, scenario.shots[k], truth)
        progress(k + 1, len(scenario.shots))
    texts = {
        "job.toml": files.job_text,
        "camera.toml": files.camera_text,
        "truth.csv": truth_csv(rows, scenario.clock),
        "truth.toml": truth_toml(scenario, rows, drawn_by),
    }
    for post in scenario.job.press.cameras:
        if post.file:
            texts[Path(post.file).name] = files.camera_text
    if scenario.clock:
        texts["frames.csv"] = frames_csv(scenario)
        texts["speed_log.csv"] = speed_log_csv(scenario)
    for name, text in texts.items():
        (part / name).write_text(text, encoding="utf-8", newline="\n")


def encode(pixels: np.ndarray, image: str) -> bytes:
    """The pixels (R, G, B or grey) as the bytes of a PNG or JPEG file.

    JPEG keeps full colour resolution: halved chroma moves coloured marks.
    """
    import cv2

    settings: list[int] = []
    if image == "jpg":
        settings = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
        settings += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
    order = pixels[..., ::-1] if pixels.ndim == 3 else pixels
    done, data = cv2.imencode(f".{image}", np.ascontiguousarray(order), settings)
    if not done:
        raise BadOutput(image, Problem("", "the picture cannot be encoded", "try png"))
    return data.tobytes()


def frames_csv(scenario: Scenario) -> str:
    """frame,time_s and, where there are several, camera and edge."""
    several = any(shot.camera or shot.edge for shot in scenario.shots)
    lines = ["frame,time_s,camera,edge" if several else "frame,time_s"]
    for shot in scenario.shots:
        own = [shot.name, number(shot.time_s, 4)]
        lines.append(",".join([*own, shot.camera, shot.edge] if several else own))
    return "\n".join(lines) + "\n"


def speed_log_csv(scenario: Scenario) -> str:
    """time_s,speed_m_min once a second, as noisy as a tachometer's reading."""
    speed = scenario.motion.speed
    times = np.arange(0.0, speed.duration_s + LOG_EVERY_S / 2.0, LOG_EVERY_S)
    rng = stream(scenario.wish.seed, "log")
    read = speed.speed_at(times) + LOG_NOISE_M_MIN * rng.standard_normal(times.size)
    lines = [f"{t:.1f},{v:.2f}" for t, v in zip(times, read, strict=True)]
    return "\n".join(["time_s,speed_m_min", *lines]) + "\n"
