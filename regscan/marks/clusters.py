"""Boxes around marks: which stand clear, and which touch or lie on each other."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """Where a mark seems to be: centre and half extents, px."""

    row: float
    col: float
    half_rows: float
    half_cols: float

    def meets(self, other: "Box", room_px: float) -> bool:
        """Whether the two come closer than room_px."""
        return (
            abs(self.row - other.row) < self.half_rows + other.half_rows + room_px
            and abs(self.col - other.col) < self.half_cols + other.half_cols + room_px
        )


def hull(boxes: Sequence[Box]) -> Box:
    """The smallest box around all of some."""
    top, bottom = min(b.row - b.half_rows for b in boxes), max(b.row + b.half_rows for b in boxes)
    left, right = min(b.col - b.half_cols for b in boxes), max(b.col + b.half_cols for b in boxes)
    return Box(
        (top + bottom) / 2.0, (left + right) / 2.0, (bottom - top) / 2.0, (right - left) / 2.0
    )


def clusters(boxes: Sequence[Box], room_px: float) -> list[list[int]]:
    """Groups of positions in `boxes` that meet, directly or through others; each sorted."""
    groups: list[set[int]] = []
    for number, box in enumerate(boxes):
        touching = [g for g in groups if any(box.meets(boxes[k], room_px) for k in g)]
        merged = {number}.union(*touching)
        groups = [g for g in groups if g not in touching] + [merged]
    return sorted(sorted(group) for group in groups)
