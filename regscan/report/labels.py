"""Labels beside the things they name: they never cover a thing, nor each other."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_NOTHING = 1e-6  # an area that is only rounding


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, in the units of the drawing; right and down grow."""

    left: float
    top: float
    width: float
    height: float

    @classmethod
    def about(cls, x: float, y: float, half_width: float, half_height: float) -> "Box":
        """The box with its centre at (x, y)."""
        return cls(x - half_width, y - half_height, 2 * half_width, 2 * half_height)

    @classmethod
    def around(cls, boxes: Iterable["Box"]) -> "Box":
        """The smallest box that holds all of them."""
        boxes = list(boxes)
        left, top = min(b.left for b in boxes), min(b.top for b in boxes)
        right = max(b.left + b.width for b in boxes)
        bottom = max(b.top + b.height for b in boxes)
        return cls(left, top, right - left, bottom - top)

    @property
    def centre(self) -> tuple[float, float]:
        """(x, y) of the middle."""
        return self.left + self.width / 2, self.top + self.height / 2

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """The point of this box that lies nearest to (x, y)."""
        across = min(max(x, self.left), self.left + self.width)
        return across, min(max(y, self.top), self.top + self.height)

    def grown(self, by: float) -> "Box":
        """The same box with `by` more on every side."""
        return Box(self.left - by, self.top - by, self.width + 2 * by, self.height + 2 * by)

    def overlap(self, other: "Box") -> float:
        """Area both share."""
        wide = min(self.left + self.width, other.left + other.width) - max(self.left, other.left)
        high = min(self.top + self.height, other.top + other.height) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)

    def outside(self, frame: "Box") -> float:
        """Area of this box that lies outside the frame."""
        return self.width * self.height - self.overlap(frame)


def place_labels(
    things: Sequence[Box],
    sizes: Sequence[tuple[float, float]],
    frame: Box | None = None,
    gap: float = 6.0,
) -> list[Box]:
    """A place for one label per thing, as near to it as may be.

    sizes   (width, height) of each label.
    frame   labels stay inside it where they can; None for no limit.

    Places are tried round the thing, nearest first and above it before below,
    right and left; the first one that covers nothing is taken, and the one that
    covers least when every place covers something.
    """
    taken: list[Box] = []
    for thing, size in zip(things, sizes, strict=True):
        best, _ = _best(_around(thing, size, gap), (*things, *taken), frame)
        taken.append(best.grown(gap / 2))
    return [box.grown(-gap / 2) for box in taken]


def labels_in_view(
    things: Sequence[Box], sizes: Sequence[tuple[float, float]], frame: Box, gap: float = 6.0
) -> tuple[list[Box], Box]:
    """Labels that cover no thing and no other label, whatever it takes; and the frame they need.

    A label without a free place beside its thing stands in a column right of the
    frame, in the order of the things from top to bottom; the frame grows by it.
    """
    labels: list[Box | None] = []
    taken: list[Box] = []
    for thing, size in zip(things, sizes, strict=True):
        best, covers = _best(_around(thing, size, gap), (*things, *taken), frame)
        labels.append(best if covers < _NOTHING else None)
        if covers < _NOTHING:
            taken.append(best.grown(gap / 2))
    crowded = [k for k, label in enumerate(labels) if label is None]
    crowded.sort(key=lambda k: things[k].centre[1])
    columns = _columns([sizes[k] for k in crowded], frame, gap)
    aside = dict(zip(crowded, columns, strict=True))
    placed = [label or aside[k] for k, label in enumerate(labels)]
    if not aside:
        return placed, frame
    return placed, Box.around([frame, *(box.grown(gap) for box in aside.values())])


def _columns(sizes: Sequence[tuple[float, float]], frame: Box, gap: float) -> list[Box]:
    """Boxes stacked right of the frame, and further right where its height is used up."""
    boxes: list[Box] = []
    left, top = frame.left + frame.width + gap, frame.top + gap
    widest = 0.0
    for wide, high in sizes:
        if top > frame.top + gap and top + high + gap > frame.top + frame.height:
            left, top, widest = left + widest + gap, frame.top + gap, 0.0
        boxes.append(Box(left, top, wide, high))
        top, widest = top + high + gap, max(widest, wide)
    return boxes


def _best(places: Iterable[Box], others: Sequence[Box], frame: Box | None) -> tuple[Box, float]:
    """The first of the places that covers least, and how much it covers or sticks out."""
    best, least = None, float("inf")
    for place in places:
        cost = sum(place.overlap(other) for other in others)
        cost += place.outside(frame) if frame else 0.0
        if cost < least - _NOTHING:
            best, least = place, cost
        if least < _NOTHING:
            break
    assert best is not None
    return best, least


def _around(thing: Box, size: tuple[float, float], gap: float) -> Iterable[Box]:
    """Places round a thing, nearest first."""
    wide, high = size
    x, y = thing.centre
    for far in (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0):
        reach = gap + far * high
        right, left = thing.left + thing.width + reach, thing.left - reach - wide
        below, above = thing.top + thing.height + reach, thing.top - reach - high
        beside, level = x - wide / 2, y - high / 2
        yield Box(beside, above, wide, high)
        yield Box(beside, below, wide, high)
        yield Box(right, level, wide, high)
        yield Box(left, level, wide, high)
        for column in (right, left):
            for row in (above, below):
                yield Box(column, row, wide, high)
