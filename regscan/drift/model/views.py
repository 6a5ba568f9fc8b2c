"""How a colour camera sees each station's mark: its channel, and its place in the frame."""

from dataclasses import dataclass

import numpy as np

from regscan.drift.model.channels import Scene
from regscan.job.job import Colour, Job

# Linear sRGB from CIE XYZ, D50 (Bradford), and the D50 white: IEC 61966-2-1 and ICC.1.
TO_RGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
WHITE = np.array([0.9642, 1.0, 0.8249])


@dataclass(frozen=True)
class View:
    """Per observed station: channel 0 red, 1 green, 2 blue, -1 alike; place_mm along the web."""

    channel: np.ndarray
    place_mm: np.ndarray


def view_of(scene: Scene, job: Job) -> View:
    """How the job says the marks look."""
    channels = [_channel(job.ink(ink).colour) for ink in scene.inks]
    places = {mark.ink: mark.circumferential_mm for mark in reversed(job.marks)}
    return View(np.array(channels), np.array([places.get(ink, 0.0) for ink in scene.inks]))


def _channel(colour: Colour | None) -> int:
    """The channel in which the ink is darkest; -1 for greys and unknown colours."""
    if colour is None or colour.values is None:
        return -1
    light = _linear(colour)
    # Inks without a hue are as good in any channel.
    if np.ptp(light) < 0.1 * max(float(light.max()), 0.05):
        return -1
    return int(np.argmin(light))


def _linear(colour: Colour) -> np.ndarray:
    values = np.array(colour.values, dtype=float)
    if colour.space == "taught":
        return values
    if colour.space == "srgb":
        return np.asarray((values / 255.0) ** 2.2)
    level, a, b = values
    f = np.array([(level + 16.0) / 116.0 + a / 500.0, (level + 16.0) / 116.0, 0.0])
    f[2] = f[1] - b / 200.0
    xyz = WHITE * np.where(f > 6.0 / 29.0, f**3, (f - 4.0 / 29.0) * 3.0 * (6.0 / 29.0) ** 2)
    return np.asarray(np.clip(TO_RGB @ xyz, 0.0, None))
