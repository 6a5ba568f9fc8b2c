"""Step: a known move of one colour, from a press hand's words to the change it must show."""

import re
from dataclasses import dataclass

from regscan.job.job import AXES, Axis

# Advancing takes lateness away, moving to the operator side takes drive side away.
WORDS: dict[str, tuple[Axis, float]] = {
    "advance": ("circumferential", -1.0),
    "retard": ("circumferential", 1.0),
    "operator": ("lateral", -1.0),
    "drive": ("lateral", 1.0),
}
LARGEST_MM = 5.0
_MOVE = re.compile(
    r"^(?:to(?:ward)?\s+)?(?P<word>[a-z]+)(?:d|ed)?(?:\s+side)?\s+(?:by\s+)?"
    r"(?P<mm>\d+(?:\.\d*)?|\.\d+)\s*(?:mm)?$"
)


@dataclass(frozen=True, slots=True)
class Step:
    """Change of the colour's offset that the move must show, mm; None: not moved on that axis."""

    circumferential_mm: float | None = None
    lateral_mm: float | None = None

    def of(self, axis: Axis) -> float:
        """The change on one axis, 0 where it was not moved."""
        own = self.circumferential_mm if axis == "circumferential" else self.lateral_mm
        return own or 0.0

    @property
    def words(self) -> str:
        """The move in words."""
        parts = []
        for axis in AXES:
            change = self.of(axis)
            if change:
                sign = 1.0 if change > 0.0 else -1.0
                word = next(w for w, way in WORDS.items() if way == (axis, sign))
                parts.append(f"{word} {abs(change):g} mm")
        return ", ".join(parts)


def step_of(text: str) -> Step:
    """The step that words such as "advance 0.10" or "retard 0.1, drive 0.05" stand for.

    Raises ValueError saying what is wrong.
    """
    found: dict[str, float] = {}
    for part in text.lower().split(","):
        match = _MOVE.match(part.strip())
        word = match["word"].rstrip("d") if match and match["word"] not in WORDS else ""
        word = match["word"] if match and match["word"] in WORDS else word
        if match is None or word not in WORDS:
            raise ValueError(
                f"{part.strip()!r} is no move: write advance, retard, operator or drive and mm,"
                ' such as "advance 0.10" or "advance 0.10, drive 0.05"'
            )
        axis, sign = WORDS[word]
        size = float(match["mm"])
        if not 0.0 < size <= LARGEST_MM:
            raise ValueError(
                f"{size:g} mm is no step: give more than 0 and at most {LARGEST_MM:g} mm"
            )
        if f"{axis}_mm" in found:
            raise ValueError(f"{text!r} moves twice on one axis")
        found[f"{axis}_mm"] = sign * size
    return Step(**found)
