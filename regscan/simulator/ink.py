"""Ink colours as light: every colour of the job as linear R, G, B between 0 and 1.

Lab and sRGB name reflectances under the camera's white light; an ink printed on
the substrate multiplies the light by what it lets through (transparent) or
replaces it (opaque).
"""

import numpy as np

from regscan.errors import BadJob, Problem
from regscan.job.job import Colour, Ink, Job

# XYZ (D50) to linear sRGB (D65), Bradford adaptation; IEC 61966-2-1 primaries.
_XYZ_D50_TO_RGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
_WHITE_D50 = np.array([0.96422, 1.0, 0.82521])
# Inks outside sRGB would get negative light; no print is blacker than this.
DARKEST = 0.003


def lab_to_light(lab: tuple[float, float, float]) -> np.ndarray:
    """Linear R, G, B (0..1) of a CIE Lab colour, D50, 2 degree; clipped to what sRGB holds."""
    lightness, a, b = lab
    f = np.array([0.0, (lightness + 16.0) / 116.0, 0.0])
    f[0], f[2] = f[1] + a / 500.0, f[1] - b / 200.0
    # CIE 15: the cube root gives way to a straight line near black.
    ratio = np.where(f > 6.0 / 29.0, f**3, 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0))
    light = _XYZ_D50_TO_RGB @ (ratio * _WHITE_D50)
    return np.asarray(np.clip(light, DARKEST, 1.0))


def srgb_to_light(values: np.ndarray) -> np.ndarray:
    """Linear light (0..1) of sRGB-coded values (0..1), IEC 61966-2-1."""
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def light_of(colour: Colour | None, place: str, job: Job) -> np.ndarray:
    """Linear R, G, B (0..1) of a job's colour. Raises BadJob for a colour without values."""
    if colour is None or colour.values is None:
        cure = "give lab or srgb, or teach the colour first"
        raise BadJob(job.path or job.name, Problem(place, "has no colour to draw with", cure))
    if colour.space == "lab":
        return lab_to_light(colour.values)
    values = np.asarray(colour.values, dtype=float)
    return srgb_to_light(values / 255.0) if colour.space == "srgb" else values


def passes(ink: Ink, job: Job) -> np.ndarray:
    """Share of the light a transparent ink lets through, per channel (0..1)."""
    paper = light_of(job.substrate, "substrate", job)
    own = light_of(ink.colour, f"inks.{ink.name}", job)
    return np.asarray(np.clip(own / paper, 0.0, 1.0))
