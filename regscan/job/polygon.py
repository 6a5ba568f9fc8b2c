"""Is a polygon simple: no repeated point, no crossing sides, some area?

Kept without numpy or a geometry library: a failing job file must answer at once.
"""

from collections.abc import Iterator, Sequence

Point = tuple[float, float]
_SMALLEST_AREA_MM2 = 1e-4


def polygon_faults(points: Sequence[Point]) -> Iterator[tuple[str, str]]:
    """(what is wrong, cure) for each fault of a polygon given by its corners in order, mm."""
    if len(points) < 3:
        yield "a polygon needs at least three points", "add the missing points"
        return
    repeated = _repeated(points)
    if repeated:
        one, other = repeated
        yield f"points {one} and {other} are the same", "leave one out; the outline closes itself"
        return
    crossing = _crossing(points)
    if crossing:
        one, other = crossing
        cure = "list the corners in the order of a walk round the outline"
        yield f"its sides {one} and {other} cross or touch", cure
    elif abs(area_mm2(points)) < _SMALLEST_AREA_MM2:
        yield "its points lie on a line", "give corners that enclose an area"


def area_mm2(points: Sequence[Point]) -> float:
    """Signed area of the polygon (shoelace rule)."""
    return 0.5 * sum(
        p[0] * q[1] - q[0] * p[1] for p, q in zip(points, [*points[1:], points[0]], strict=True)
    )


def _repeated(points: Sequence[Point]) -> tuple[int, int] | None:
    """The first two corners (counted from 1) at one place."""
    seen: dict[Point, int] = {}
    for number, point in enumerate(points, start=1):
        if point in seen:
            return seen[point], number
        seen[point] = number
    return None


def _crossing(points: Sequence[Point]) -> tuple[int, int] | None:
    """The first two sides that cross; side k (from 1) leaves corner k."""
    count = len(points)
    sides = [(points[k], points[(k + 1) % count]) for k in range(count)]
    for one in range(count):
        for other in range(one + 1, count):
            if other == one + 1 or (one == 0 and other == count - 1):
                if count > 3 and _folds_back(sides[one], sides[other], other == one + 1):
                    return one + 1, other + 1
            elif _meet(*sides[one], *sides[other]):
                return one + 1, other + 1
    return None


def _folds_back(side: tuple[Point, Point], other: tuple[Point, Point], follows: bool) -> bool:
    """Whether two neighbouring sides run back over each other."""
    first, second = (side, other) if follows else (other, side)
    corner = first[1]
    ahead = (first[0][0] - corner[0], first[0][1] - corner[1])
    back = (second[1][0] - corner[0], second[1][1] - corner[1])
    along = ahead[0] * back[0] + ahead[1] * back[1]
    return along > 0 and _turn(first[0], corner, second[1]) == 0.0


def _turn(a: Point, b: Point, c: Point) -> float:
    """> 0 when a, b, c turn one way, < 0 the other, 0 on a line."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _between(a: Point, b: Point, c: Point) -> bool:
    """Whether c, known to be on the line through a and b, lies between them."""
    return all(min(a[k], b[k]) <= c[k] <= max(a[k], b[k]) for k in (0, 1))


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the stretches ab and cd share a point."""
    turns = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    ends = ((a, b, c), (a, b, d), (c, d, a), (c, d, b))
    return any(turn == 0 and _between(*three) for turn, three in zip(turns, ends, strict=True))
