"""The scenes of the comparison: single discs of known place under several looks."""

from dataclasses import dataclass

import numpy as np
from outside.drawn import Look, cover_of, exposed, levels_of, size_px
from outside.mono import phases

from regscan.job.layout import Disc


@dataclass(frozen=True)
class Scene:
    """A disc, the pixel size, and how it looks."""

    diameter_mm: float
    px_mm: float
    look: Look

    @property
    def title(self) -> str:
        look = self.look
        slope = f", slope {look.slope:.0f} ({look.slope_of})" if look.slope else ""
        return (
            f"disc {self.diameter_mm} mm at {1000 * self.px_mm:.0f} um/px, "
            f"contrast {look.contrast:.0f}, noise {look.noise:g}{slope}"
        )


SCENES = [
    Scene(0.5, 0.010, Look(noise=3.0)),
    Scene(0.5, 0.010, Look(noise=3.0, slope=20.0)),
    Scene(0.5, 0.010, Look(noise=3.0, slope=20.0, slope_of="light")),
    Scene(0.5, 0.010, Look(noise=1.0)),
    Scene(0.5, 0.010, Look(noise=0.0)),
    Scene(0.5, 0.010, Look(noise=4.0, contrast=110.0)),
    Scene(0.5, 0.010, Look(noise=4.0, contrast=110.0, slope=20.0)),
    Scene(0.5, 0.015, Look(noise=4.0, contrast=110.0)),
    Scene(0.75, 0.012, Look(noise=3.0)),
    Scene(1.0, 0.008, Look(noise=3.0)),
]


@dataclass(frozen=True)
class Patch:
    """One picture and where its disc truly lies."""

    pixels: np.ndarray
    place: tuple[float, float]


def patches_of(scene: Scene, side: int, repeats: int) -> list[Patch]:
    """side x side sub-pixel phases, each with `repeats` draws of noise."""
    rng = np.random.default_rng(11)
    shape, size = Disc(scene.diameter_mm), size_px(Disc(scene.diameter_mm), scene.px_mm)
    drawn = []
    for row, col in phases(side):
        place = size[0] // 2 + row, size[1] // 2 + col
        levels = levels_of(cover_of(size, place, shape, scene.px_mm, scene.look), scene.look)
        drawn += [Patch(exposed(levels, scene.look, rng), place) for _ in range(repeats)]
    return drawn
