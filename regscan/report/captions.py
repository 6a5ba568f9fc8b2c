"""What a marked-up frame says in words, and the strip below it that says what is drawn."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera, Direction
from regscan.drift.stretches import known
from regscan.job.job import AXES, Job
from regscan.report.pen import DARK, DOUBT, IN, LIGHT, OUT, Colour, Pen
from regscan.report.words import listed, offset_words, plain

_A_LINE = 2
_KEY, _KEY_HIGH = 190.0, 84.0  # room for the arrows at the right end of the strip
_STEP: dict[Direction, tuple[int, int]] = {
    "up": (0, -1),
    "down": (0, 1),
    "left": (-1, 0),
    "right": (1, 0),
}  # (x, y) in the picture


@dataclass(frozen=True, slots=True)
class Caption:
    """The words of one frame.

    where    its name, web position and speed, as far as known.
    outside  colours outside tolerance by a good measurement, worst first, each in words.
    judged   whether any colour was measured well enough to be judged.
    weak     which marks are missing or doubtful; "" when none is.
    """

    where: str
    outside: tuple[str, ...]
    judged: bool
    weak: str
    reference: str

    @property
    def state(self) -> str:
        """Which colours lie outside, or that none does, or that nothing can be said."""
        if not self.judged:
            return "CANNOT BE SAID: no colour was measured well"
        if not self.outside:
            return "INSIDE tolerance, as far as measured well"
        return f"OUTSIDE: {'; '.join(self.outside)}"

    @property
    def state_lines(self) -> list[str]:
        """The state, with no more than _A_LINE colours in a line."""
        parts = self.state.split("; ")
        groups = [parts[k : k + _A_LINE] for k in range(0, len(parts), _A_LINE)]
        return ["; ".join(group) for group in groups]

    @property
    def ground(self) -> Colour:
        """What colour the state stands on; its word says the same."""
        return DOUBT if not self.judged else OUT if self.outside else IN


def caption(name: str, marks: np.ndarray, offsets: np.ndarray, job: Job) -> Caption:
    """The words of a frame from its rows of the run's tables."""
    # Only good rows count: a doubtful number judges nothing.
    good = offsets[(offsets["status"] == "ok") & (offsets["ink"] != job.reference)]
    found = sorted((pair for row in good for pair in _outside(row, job)), reverse=True)
    outside = tuple(words for _, words in found)
    return Caption(_where(name, offsets), outside, bool(len(good)), _weak(marks), job.reference)


def _where(name: str, offsets: np.ndarray) -> str:
    parts = [name]
    for column, decimals, unit in (("web_m", 1, "m"), ("speed_m_min", 0, "m/min")):
        value = float(offsets[column][0]) if len(offsets) else np.nan
        if np.isfinite(value):
            parts.append(f"{plain(value, decimals)} {unit}")
    return ", ".join(parts)


def _outside(row: np.ndarray, job: Job) -> Iterator[tuple[float, str]]:
    """How many times its tolerance a colour is off on its worse axis, and that in words."""
    limits, values = job.tolerance_for(str(row["ink"])), {a: float(row[f"{a}_mm"]) for a in AXES}
    off = [(abs(mm) / limits.of(axis), axis) for axis, mm in values.items() if np.isfinite(mm)]
    times, axis = max(off, default=(0.0, AXES[0]))
    if times > 1.0:
        words = offset_words(axis, values[axis], known(float(row[f"{axis}_sd_mm"])))
        yield times, f"{row['ink']} {words} ({times:.1f} x its tolerance)"


def _weak(marks: np.ndarray) -> str:
    parts = []
    for status in ("missing", "doubtful"):
        inks = [str(ink) for ink in dict.fromkeys(marks["ink"][marks["status"] == status])]
        if inks:
            parts.append(f"{status.upper()}: {listed(inks)}")
    return "; ".join(parts)


def strip(above: Pen, words: Caption, camera: Camera, enlarged: int) -> np.ndarray:
    """What the picture above means, on a strip of the same width; H x W x 3 uint8."""
    wide = above.picture.shape[1]
    lines = [
        *([words.weak] if words.weak else []),
        f"Thick line: offset. Box: tolerance. Both drawn {enlarged} x as large as the picture.",
        f"Dashed outline: design place, from the reference {words.reference}. +: measured place.",
    ]
    key = _KEY * above.scale
    below = fitted(lines, (wide - key, _KEY_HIGH * above.scale), above.scale, DARK)
    pen = Pen(np.full((below.shape[0], wide, 3), DARK, np.uint8), above.scale)
    pen.picture[:, : below.shape[1]] = below
    _compass(pen, camera)
    head = fitted([words.where, *words.state_lines], (wide, 0.0), 1.3 * above.scale, words.ground)
    return np.vstack([head, pen.picture])


def fitted(
    lines: list[str], least: tuple[float, float], scale: float, ground: Colour
) -> np.ndarray:
    """Lines of words on a ground, least[0] wide and at least least[1] high; smaller if need be."""
    wide, high = least
    size = Pen(np.zeros((1, 1, 3), np.uint8), scale).text_size(lines)
    scale *= min(wide / size[0], 1.0)
    high = max(high, Pen(np.zeros((1, 1, 3), np.uint8), scale).text_size(lines)[1])
    pen = Pen(np.full((round(high), round(wide), 3), ground, np.uint8), scale)
    pen.words((0.0, 0.0), lines)
    return pen.picture


def _compass(pen: Pen, camera: Camera) -> None:
    """Which way the web travels and where the drive side lies, at the right end of the strip."""
    high, wide = pen.picture.shape[:2]
    s = pen.scale
    centre = (wide - 150.0 * s, high / 2)
    for direction, word in ((camera.web_travel, "web travel"), (camera.drive_side, "drive side")):
        dx, dy = _STEP[direction]
        tip = (centre[0] + 28 * s * dx, centre[1] + 28 * s * dy)
        pen.arrow(centre, tip, LIGHT)
        text = pen.text_size([word])
        x = tip[0] + (4 * s if dx >= 0 else -4 * s - text[0]) if dx else tip[0] + 6 * s
        y = tip[1] - text[1] / 2 + (0 if dx else 2 * s * dy)
        y = min(max(y, 0.0), high - text[1])
        pen.words((x, y), [word])
