"""A gauge study: the same things measured again and again, and which frame belongs where."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Entry:
    """Where one frame belongs.

    frame    its name, as in the table of offsets.
    part     the position that was measured: a print or a place on it, standing still.
    setup    who or what set it up; "" where there is only one.
    trial    1, 2, 3 ... within part and set-up; None: in the order of the frames.
    """

    frame: str
    part: str
    setup: str = ""
    trial: int | None = None


@dataclass(frozen=True)
class Study:
    """One colour on one axis, as one camera and edge saw it.

    values_mm   parts x set-ups x trials, no hole.
    order       the same shape: which came first, counted in frames of a standing web, or in
                trials where there are several positions.
    """

    parts: tuple[str, ...]
    setups: tuple[str, ...]
    values_mm: np.ndarray
    order: np.ndarray

    @property
    def trials(self) -> int:
        """How often each part was measured in each set-up."""
        return int(self.values_mm.shape[2])
