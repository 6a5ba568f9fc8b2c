"""Marks that may have been taken for each other: of one shape, of inks alike, on one edge."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations

import numpy as np

from regscan.camera.camera import Camera
from regscan.job.layout import MarkDesign, Shape
from regscan.marks.flags import MarkFlag
from regscan.marks.judging.quality import with_flag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import Mark
from regscan.marks.outlined import told_from
from regscan.marks.seeing.inks import Palette, line_distances
from regscan.marks.seeing.view import View
from regscan.marks.shape.arcs import Arcs, arcs_of
from regscan.marks.shape.outline import outline_px

_MERGED_PX = 8.0  # a profile's reach on one side, and the softness of the other edge
_ONE_EDGE_PX = 3.0  # between two outlines whose soft edges cannot be told apart
_ALIKE = 0.9  # of each of two outlines on each other: they cannot be told apart by their shape
_NEAR_PX = 16.0  # two readings of an edge, each softened by the other's
# Of an outline, at which a mark's step is not that of a like mark which is not surely elsewhere.
_HALF = 0.5
# Two marks are told apart by their places where changing them over takes offsets so much larger.
_TWICE, _ROOM_MM = 2.0, 0.3
_AS_MUCH = 0.1  # of outlines: of two that lie on each other neither is known by what is its own


def told_apart(
    view: View, camera: Camera, marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[Mark]:
    """All marks of a frame, those doubtful that another explains as well."""
    if len(view.palette.substrate) == 1:
        edged = _edges_told_apart(camera, marks, designs)
        return _places_told_apart(camera, edged, designs)
    stepped = _steps_told_apart(view, camera, marks, designs)
    edged = _edges_told_apart(camera, stepped, designs)
    return _likes_doubted(view.palette, camera, edged, designs)


def _steps_told_apart(
    view: View, camera: Camera, marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[Mark]:
    """Marks among other print are doubtful that may be others' of their shape: on what lies there
    their inks may look alike, as cyan on yellow does like green."""
    told = {}
    for number, (mark, design) in enumerate(zip(marks, designs, strict=True)):
        if mark.status != "ok" or not math.isnan(mark.printing.fill):
            continue
        likes = {d.ink for d in designs if alike(d, design, camera)} - {design.ink}
        if likes:
            told[number] = told_from(view, camera, design, mark, sorted(likes))
    blind = {number for number, shares in told.items() if not all(shares.values())}
    sure = {m.ink for k, m in enumerate(marks) if m.status == "ok" and k not in blind}
    hardly = {
        number
        for number, shares in told.items()
        if any(share < _HALF for ink, share in shares.items() if ink not in sure)
    }
    return _doubted(marks, blind | hardly)


def _edges_told_apart(
    camera: Camera, marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[Mark]:
    """Marks are doubtful whose edge is that of another which should lie elsewhere, as a disc in a
    ring; not that other, where it has more edge of its own."""
    placed = {
        k: (mark, design)
        for k, (mark, design) in enumerate(zip(marks, designs, strict=True))
        if mark.status != "missing"
    }
    strayed = [(k, n) for k, n in combinations(placed, 2) if _strayed(placed[k], placed[n], camera)]
    shared = {
        (k, n): _shared(placed[k], placed[n], camera)
        for pair in strayed
        for k, n in (pair, pair[::-1])
        if marks[k].status == "ok"
    }
    return _doubted(
        marks,
        {
            k
            for (k, n), share in shared.items()
            if share > LIMITS.outline_share and share > shared.get((n, k), 0.0) - _AS_MUCH
        },
    )


def _places_told_apart(
    camera: Camera, marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[Mark]:
    """In a picture of one channel, marks are doubtful that may as well be others of their shape:
    only the layout says which is which, as long as colours lie nearer to their places than to each
    other's."""
    seen = [k for k, mark in enumerate(marks) if mark.status != "missing"]
    if not seen:
        return list(marks)
    due = np.array([(d.circumferential_mm, d.lateral_mm) for d in designs])
    at = np.array([camera.to_web(marks[k].row_px, marks[k].col_px) for k in seen])
    at -= np.median(at - due[seen], axis=0)
    # How far each of the marks seen is from where each is due, mm.
    off = np.linalg.norm(at[:, None] - due[None], axis=2)
    own = {k: float(off[row, k]) for row, k in enumerate(seen)}
    unsure = set()
    for row, k in enumerate(seen):
        for other, design in enumerate(designs):
            if other == k or not alike(design, designs[k], camera):
                continue
            swapped, as_told = float(off[row, other]), own[k]
            if other in own:
                swapped += float(off[seen.index(other), k])
                as_told += own[other]
            if swapped < _TWICE * as_told + _ROOM_MM:
                unsure.add(k)
    return _doubted(marks, unsure)


def _likes_doubted(
    palette: Palette, camera: Camera, marks: Sequence[Mark], designs: Sequence[MarkDesign]
) -> list[Mark]:
    """Where a mark may be of another ink, that ink's of its shape is as doubtful: the two may have
    been taken for each other, on one edge of the web."""
    unsure = [
        k
        for k, mark in enumerate(marks)
        if mark.status == "doubtful" and MarkFlag.INK_UNSURE in mark.flags
    ]
    if not unsure:  # most frames
        return list(marks)
    distance, _ = line_distances(palette.inks, palette)
    near = np.minimum(distance, distance.T) < LIMITS.ink_distance
    number = {name: k for k, name in enumerate(palette.names)}
    return _doubted(
        marks,
        {
            k
            for k, design in enumerate(designs)
            for other in unsure
            if designs[other].ink != design.ink
            and designs[other].edge == design.edge
            and near[number[design.ink], number[designs[other].ink]]
            and alike(designs[other], design, camera)
        },
    )


def _doubted(marks: Sequence[Mark], numbers: set[int]) -> list[Mark]:
    """The marks, those with these numbers that were ok of an unsure ink."""
    return [
        with_flag(mark, MarkFlag.INK_UNSURE) if k in numbers and mark.status == "ok" else mark
        for k, mark in enumerate(marks)
    ]


def alike(one: MarkDesign, other: MarkDesign, camera: Camera) -> bool:
    """Whether two marks are of one shape, or of two that have one edge between them where they lie
    on each other."""
    return one.shape == other.shape or _one_edge(one.shape, other.shape, camera)


@lru_cache(maxsize=512)
def _one_edge(one: Shape, other: Shape, camera: Camera) -> bool:
    # Corners and all: the arcs of small marks are few, or none.
    own, near = (
        np.concatenate([_every_px(polygon) for polygon in outline_px(shape, camera)])
        for shape in (one, other)
    )
    return min(_near(own, near), _near(near, own)) > _ALIKE


def _every_px(polygon: np.ndarray) -> np.ndarray:
    """Points along a closed polygon (N x 2, px), no further than a px apart."""
    ends = np.roll(polygon, -1, axis=0)
    pieces = [
        np.linspace(start, end, max(math.ceil(math.dist(start, end)), 1), endpoint=False)
        for start, end in zip(polygon, ends, strict=True)
    ]
    return np.concatenate(pieces)


def twins_doubted(
    marks: Sequence[Mark], designs: Sequence[MarkDesign], camera: Camera
) -> list[Mark]:
    """Marks of one shape whose outlines merge into one edge are doubtful: which of them lies
    where, only a breath of colour would tell."""
    both = list(zip(marks, designs, strict=True))
    pairs = combinations(range(len(both)), 2)
    return _doubted(
        marks, {k for n, m in pairs if merged(both[n], both[m], camera) for k in (n, m)}
    )


def merged(one: tuple[Mark, MarkDesign], other: tuple[Mark, MarkDesign], camera: Camera) -> bool:
    """Whether two marks, if they are of one shape, have one edge between them."""
    gap = math.hypot(one[0].row_px - other[0].row_px, one[0].col_px - other[0].col_px)
    return gap < _MERGED_PX and alike(one[1], other[1], camera)


def twins_widened(
    marks: Sequence[Mark],
    designs: Sequence[MarkDesign],
    sought: Mapping[int, tuple[float, float]],
    camera: Camera,
) -> list[Mark]:
    """The marks, doubtful ones that lie near another of their shape known no better than an edge
    is wide: any edge there may be the other's.

    sought   where marks were sought, (row, col) px: there a missing one may lie, and not show."""
    places = {
        k: (mark.row_px, mark.col_px) if mark.status != "missing" else sought.get(k)
        for k, mark in enumerate(marks)
    }
    found = list(marks)
    for k, mark in enumerate(marks):
        if mark.status != "doubtful":
            continue
        like = [p for n, p in places.items() if n != k and alike(designs[n], designs[k], camera)]
        gaps = [math.dist(place, (mark.row_px, mark.col_px)) for place in like if place]
        if any(gap < _NEAR_PX for gap in gaps):
            found[k] = _no_surer_than_an_edge(mark)
    return found


def _no_surer_than_an_edge(mark: Mark) -> Mark:
    least = mark.edge_px**2
    return replace(mark, row_var=max(mark.row_var, least), col_var=max(mark.col_var, least))


def claimed(one: tuple[Mark, MarkDesign], other: tuple[Mark, MarkDesign], camera: Camera) -> bool:
    """Whether most of a mark's edge is another's too. Of a mark that should lie elsewhere that
    says nothing: what is printed there is the other, whatever its colour is like."""
    return merged(one, other, camera) or _shared(one, other, camera) > LIMITS.outline_share


def _shared(one: tuple[Mark, MarkDesign], other: tuple[Mark, MarkDesign], camera: Camera) -> float:
    """Share of a mark's edge that is another's too."""
    return _near(*(_outline_at(mark, design, camera) for mark, design in (one, other)))


def _near(own: np.ndarray, near: np.ndarray) -> float:
    """Share of points of an outline (N x 2) that another's (M x 2) is too near to be told from."""
    if not (own.size and near.size):
        return 0.0
    # |own - near|^2 without all the differences; |own|^2 moves no minimum.
    away2 = ((near * near).sum(axis=1) - 2.0 * (own @ near.T)).min(axis=1) + (own * own).sum(axis=1)
    return float(np.mean(away2 < _ONE_EDGE_PX**2))


def _strayed(one: tuple[Mark, MarkDesign], other: tuple[Mark, MarkDesign], camera: Camera) -> bool:
    """Whether two marks lie on each other that should not."""
    gap = one[0].row_px - other[0].row_px, one[0].col_px - other[0].col_px
    due = camera.step_to_pixels(
        one[1].circumferential_mm - other[1].circumferential_mm,
        one[1].lateral_mm - other[1].lateral_mm,
    )
    near, far = max(map(abs, gap)), max(map(abs, due))
    if near >= far:
        return False
    return near < sum(_arcs(*mark, camera).reach_px for mark in (one, other)) <= far


def _outline_at(mark: Mark, design: MarkDesign, camera: Camera) -> np.ndarray:
    """Points of a mark's outline in the frame, N x 2."""
    place = mark.row_px, mark.col_px
    return np.asarray(_arcs(mark, design, camera).points + place)


def _arcs(mark: Mark, design: MarkDesign, camera: Camera) -> Arcs:
    return arcs_of(design.shape, camera.near(mark.row_px, mark.col_px))
