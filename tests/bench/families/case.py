"""Case: one frame of a family before it is drawn; Family: how to make its cases."""

import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from regscan.job.job import Job
from regscan.simulator.printed import Scene

Offsets = Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Case:
    """told      the job as a measurer reads it.
    scene     what is really printed and how it is seen; its job's inks are as printed that day.
    offsets   per ink (circumferential_mm, lateral_mm) from the design place.
    """

    told: Job
    scene: Scene
    offsets: Offsets


@dataclass(frozen=True)
class Draw:
    """Chance and number of one frame.

    any      random numbers of this frame alone.
    lasting  random numbers that are the same for every frame of one variant: the camera.
    """

    number: int
    seed: int
    any: np.random.Generator
    lasting: np.random.Generator


@dataclass(frozen=True)
class Family:
    """One kind of frame.

    group   which limits hold for it, a key of `limits.LIMITS`.
    says    what is in it, for the table's legend.
    make    draws up case after case; `variants` of them take turns.
    """

    name: str
    group: str
    says: str
    make: Callable[[Draw], Case]
    variants: int = 2

    def case(self, number: int) -> Case:
        """The case of one frame, the same every time."""
        own = zlib.crc32(self.name.encode())
        seeds = np.random.SeedSequence([own, number])
        return self.make(
            Draw(
                number,
                int(seeds.generate_state(1)[0]),
                np.random.default_rng(seeds),
                np.random.default_rng([own, number % self.variants, 77]),
            )
        )
