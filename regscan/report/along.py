"""Along the run: the axis that charts share, and where each frame lies on it.

Metres of web where every frame has them, else seconds, else the frame's number:
a run is drawn on an axis that is known for all of it, never on an invented one.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from regscan.drift.drift import Stretch
from regscan.drift.frames import Frames, list_frames


@dataclass(frozen=True, slots=True)
class Along:
    """The axis of all charts.

    name     "web_m", "time_s" or "number" (frames counted from 1).
    why      what is to be said about the choice; "" for metres of web.
    frames   the run's frames, in the order the run has them.
    places   where each of them lies on the axis.
    """

    name: str
    label: str
    unit: str
    decimals: int
    why: str
    frames: Frames
    places: np.ndarray

    def of_frame(self, name: str, camera: str) -> float | None:
        """Where a frame lies; None for one that the table does not hold."""
        found = np.flatnonzero((self.frames.name == name) & (self.frames.camera == camera))
        return float(self.places[found[0]]) if len(found) else None

    def of_stretch(self, stretch: Stretch, camera: str) -> tuple[float | None, float | None]:
        """Where a stretch outside tolerance begins and ends."""
        known = {"web_m": (stretch.from_m, stretch.to_m), "time_s": (stretch.from_s, stretch.to_s)}
        start, end = known.get(self.name, (None, None))
        if start is None:
            start = self.of_frame(stretch.from_frame, camera)
        return start, self.of_frame(stretch.to_frame, camera) if end is None else end

    def facts(self) -> dict[str, Any]:
        """What page and script need of it."""
        names = ("name", "label", "unit", "decimals", "why")
        return {name: getattr(self, name) for name in names}


def along_the_run(offsets: np.ndarray) -> Along:
    """The axis of a run's charts, from its table of offsets."""
    frames, why = list_frames(offsets, None), ""
    choices = (
        ("web_m", "web at the camera", "m", frames.web_m),
        ("time_s", "time", "s", frames.time_s),
    )
    for name, label, unit, places in choices:
        unknown = int(np.isnan(places).sum())
        if len(frames) and not unknown:
            return Along(name, label, unit, 1, why, frames, places)
        why = _why_not(label, unknown, len(frames))
    numbers = np.arange(1.0, len(frames) + 1.0)
    return Along("number", "frame number", "", 0, why, frames, numbers)


def _why_not(label: str, unknown: int, frames: int) -> str:
    if unknown == frames:
        return f"No frame has a known {label}, so the charts use another axis."
    return f"{unknown} of {frames} frames have no known {label}, so the charts use another axis."
