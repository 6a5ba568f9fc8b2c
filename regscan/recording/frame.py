"""Frame: one camera picture and what is known of where and when it was taken."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class FrameInfo:
    """A frame before its pixels are read.

    name      file name (or name and number within a video), as it appears in tables.
    index     0, 1, 2 ... in the order of the run.
    time_s, web_m, speed_m_min   None where not known; never a made-up zero.
    camera, edge   "" where there is only one.
    """

    name: str
    index: int
    time_s: float | None = None
    web_m: float | None = None
    speed_m_min: float | None = None
    camera: str = ""
    edge: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """A picture: H x W (mono or raw mosaic) or H x W x 3 (R, G, B); uint8 or uint16.

    rows   of the whole picture, where only its upper part was read; None where pixels are all.
    """

    info: FrameInfo
    pixels: np.ndarray
    rows: int | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Rows and columns of the whole picture."""
        return self.rows or self.pixels.shape[0], self.pixels.shape[1]

    @property
    def whole(self) -> bool:
        """Whether all of its rows are there."""
        return self.size[0] == self.pixels.shape[0]

    @property
    def full_scale(self) -> float:
        """The largest value its pixels can hold."""
        return float(np.iinfo(self.pixels.dtype).max)
