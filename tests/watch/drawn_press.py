"""A small invented press that drops drawn frames into a folder, one after another."""

import os
from pathlib import Path

import cv2
import numpy as np

from regscan.simulator.draw import draw_frame
from regscan.simulator.example import given
from regscan.simulator.frame_size import frame_size
from regscan.simulator.look import Look, Sensor, Shot

STEP_M = 0.9144  # three repeats from frame to frame


class DrawnPress:
    """drop() writes the next frame; offsets are where its colours then print, mm."""

    def __init__(self, folder: Path, listed: bool = True, scatter_mm: float = 0.002) -> None:
        self.folder, self.listed, self.scatter_mm = folder, listed, scatter_mm
        example = given()
        self.job, self.camera = example.job, example.camera
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "job.toml").write_text(example.job_text, encoding="utf-8")
        (folder / "camera.toml").write_text(example.camera_text, encoding="utf-8")
        if listed:
            (folder / "frames.csv").write_text("frame,time_s,web_m,speed_m_min\n")
        self.offsets: dict[str, tuple[float, float]] = {}
        self.lacking: set[str] = set()
        self.number = 0

    @property
    def web_m(self) -> float:
        """Place of the newest frame."""
        return self.number * STEP_M

    def pixels(self) -> np.ndarray:
        """The next frame, B G R."""
        chance = np.random.default_rng(self.number)
        offsets = {
            ink.name: tuple(
                np.add(self.offsets.get(ink.name, (0.0, 0.0)), chance.normal(0, self.scatter_mm, 2))
            )
            for ink in self.job.inks
        }
        for ink in self.lacking:
            offsets[ink] = (40.0, 0.0)  # far outside the picture
        rows, cols = frame_size(self.job.marks, self.camera, 0.45)
        shot = Shot(rows, cols, self.number)
        frame, _ = draw_frame(self.job, self.camera, offsets, Look(sensor=Sensor()), shot)
        return cv2.cvtColor(frame.pixels, cv2.COLOR_RGB2BGR)

    def encoded(self) -> bytes:
        """The next frame as PNG bytes."""
        return cv2.imencode(".png", self.pixels(), [cv2.IMWRITE_PNG_COMPRESSION, 1])[1].tobytes()

    def drop(self, frames: int = 1, **offsets: tuple[float, float]) -> str:
        """Write the next frames whole; the last one's name."""
        self.offsets |= offsets
        for _ in range(frames):
            self.number += 1
            self.note()
            part = self.folder / f".{self.name}.part"
            part.write_bytes(self.encoded())
            os.replace(part, self.folder / self.name)
        return self.name

    def note(self) -> None:
        """The next frame's line in frames.csv."""
        if self.listed:
            line = f"{self.name},{self.number * 0.5:.3f},{self.web_m:.4f},109.7\n"
            with (self.folder / "frames.csv").open("a") as file:
                file.write(line)

    @property
    def name(self) -> str:
        """Of the frame with the present number."""
        return f"{self.number:05d}.png"
