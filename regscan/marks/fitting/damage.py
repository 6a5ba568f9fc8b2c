"""A damaged mark: what lies on it or is missing from it is left out before it is fitted.

A speck, a hickey or a missing half pulls a fit of the design twice over: by the pixels that
differ much from it, and by the soft rim around those, which differ too little to be thrown out
one by one. So damage is looked for as areas: pixels far off the fit, whatever hangs together
with them, and a rim as wide as the softness. Where it is large, the first fit is itself pulled
too far to show it; then parts of the outline that show are tried as starts.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from regscan.marks.fitting.fit import Fit, Start, fit_marks
from regscan.marks.fitting.inked import Inked
from regscan.marks.fitting.reading import Patch
from regscan.marks.fitting.starts import starts_near
from regscan.marks.shape.arcs import Arcs
from regscan.marks.shape.template import TILE, Template

_SEED = 8.0, 0.3  # spreads of the outline's residuals, and of the contrast: does not belong
_NEXT = 2.5, 0.04  # the same of pixels that hang together with it
_RIM = 1.7  # widths of the edge, and a pixel, that damage reaches beyond what shows of it
_LARGE = 100.0  # widths of the edge times a pixel: no bulge of a rough edge is as large
_ROUGH = 0.05  # of the contrast: edges of good print wander by as much, spread
_ROUNDS = 5
_SAME = 0.25, 0.02  # px, share of the patch: fits that differ by less come to the same
_PULLED = 0.1  # of the contrast: more misfit of the outline may hide what causes it
_MUCH = 0.06  # of the outline: more damage may have misled the first fit
_BETTER = 0.5  # of the whole mark's misfit: else it is not damaged but rough
_WORST = 3.0, 0.08  # of the noise, of the contrast: further off, a place is not explained
_AS_GOOD = 1.15  # times the best's: as much of the outline is explained
_AS_SHARP = 1.2
_LEAST_LEFT = 0.4  # of the outline: one side of a triangle, 0.33, tells one direction only


@dataclass(frozen=True, slots=True)
class Sound:
    """A fit without the damage.

    spoiled  pixels of the patch that were left out, H x W bool.
    lost     share of the outline's places in them.
    all_of_it  what the mark shows, damage and all.
    known    True where it is taken to look as the template does, see fit_mark.
    rival    (row, col) px to another place where it may as well be.
    """

    fit: Fit
    spoiled: np.ndarray
    lost: float
    all_of_it: Inked
    known: bool = False
    rival: tuple[float, float] = (0.0, 0.0)


def damaged(patch: Patch, template: Template, fit: Fit, edge_px: float) -> bool:
    """Whether a fitted mark shows damage, or fits so badly that it may hide it.

    edge_px   the edge's width, one sigma.
    """
    return pulled(fit) or bool(_spoiled(patch, template, fit, edge_px).any())


def pulled(fit: Fit) -> bool:
    """Whether a fit is so bad that damage may have pulled it."""
    return fit.misfit > _PULLED


def best_start(
    patch: Patch,
    template: Template,
    arcs: Arcs,
    whole: Fit,
    edge_px: float,
    *,
    partial: bool = False,
) -> Sound | None:
    """The fit that explains most of the outline, started from the whole mark and, where damage is
    large, from wherever much of the outline shows; None where no fit explains enough.

    arcs      the outline of the template's shape.
    whole     the fit of all that shows.
    partial   True where what is there cannot be the whole mark, however well that fits it.
    """
    spoiled = _spoiled(patch, template, whole, edge_px)
    first = sound_fit(patch, template, whole, spoiled, edge_px) if spoiled.any() else None
    if partial:
        first = None
    elif not (pulled(whole) or _share(template, whole, patch, spoiled) > _MUCH):
        return first
    starts = [
        (start, _spoiled(patch, template, start, edge_px))
        for start in _outline_fits(patch, template, arcs, whole, edge_px)
    ]
    found = sound_fits(patch, template, starts, edge_px, known=True)
    best = _likeliest(template, [one for one in [first, *found] if one])
    if best is None or best is first or partial:
        return best
    # A rough outline always has a part that fits better without the rest, but not by much.
    as_it_is = first.fit if first else whole
    return best if best.fit.misfit < _BETTER * as_it_is.misfit else first


def _likeliest(template: Template, sound: Sequence[Sound]) -> Sound | None:
    """Of fits of what is left, those that explain most of the outline; of those the one with the
    sharpest edges, and the furthest of those that are nearly as sharp as its rival."""
    if not sound:
        return None
    clearest = min(abs(one.fit.noise / one.fit.contrast) for one in sound)
    worst = max(_WORST[0] * clearest, _WORST[1])
    left = [_unexplained(template, one.fit, worst) for one in sound]
    likely = [one for one, its in zip(sound, left, strict=True) if its <= _AS_GOOD * min(left)]
    best = min(likely, key=lambda one: one.fit.misfit)
    gaps = [
        (one.fit.row_px - best.fit.row_px, one.fit.col_px - best.fit.col_px)
        for one in likely
        if one.fit.misfit <= _AS_SHARP * best.fit.misfit
    ]
    return replace(best, rival=max(gaps, key=lambda gap: math.hypot(*gap)))


def sound_fit(
    patch: Patch, template: Template, start: Fit, spoiled: np.ndarray, edge_px: float
) -> Sound | None:
    """Damage found and left out in turns, until it stays the same; None where little is left.

    start     where to start; it may be another template's fit.
    spoiled   what to leave out first, H x W bool.
    """
    return sound_fits(patch, template, [(start, spoiled)], edge_px)[0]


def sound_fits(
    patch: Patch,
    template: Template,
    starts: Sequence[tuple[Fit, np.ndarray]],
    edge_px: float,
    *,
    known: bool = False,
) -> list[Sound | None]:
    """The same from several starts side by side; None also for one that comes to the same as an
    earlier one, which is followed no further.

    known   True where the mark is taken to look as the template does, see fit_mark.
    """
    fits: list[Fit | None] = [start for start, _ in starts]
    spoiled = [spoiled for _, spoiled in starts]
    without = list(spoiled)
    going = list(range(len(starts)))
    for _ in range(_ROUNDS):
        for k in list(going):
            if any(_alike(fits[k], without[k], fits[j], without[j]) for j in range(k)):
                fits[k] = None
                going.remove(k)
        again = fit_marks(
            [
                Start(
                    _without(patch, spoiled[k]),
                    template,
                    (fit.row_px, fit.col_px),
                    near=True,
                    known=known,
                )
                for k in going
                if (fit := fits[k])
            ]
        )
        for k, fit in zip(list(going), again, strict=True):
            fits[k], without[k] = fit, spoiled[k]
            spoiled[k] = _spoiled(patch, template, fit, edge_px) if fit else spoiled[k]
            if (spoiled[k] == without[k]).all():
                going.remove(k)
        if not going:
            break
    return [
        _sound(patch, template, fit, out, known=known) if fit else None
        for fit, out in zip(fits, without, strict=True)
    ]


def _alike(fit: Fit | None, without: np.ndarray, other: Fit | None, left_out: np.ndarray) -> bool:
    """Whether two fits, each without some pixels, come to the same."""
    return (
        fit is not None
        and other is not None
        and abs(fit.row_px - other.row_px) < _SAME[0]
        and abs(fit.col_px - other.col_px) < _SAME[0]
        and bool(np.count_nonzero(without != left_out) <= _SAME[1] * without.size)
    )


def _sound(
    patch: Patch, template: Template, fit: Fit, spoiled: np.ndarray, *, known: bool
) -> Sound | None:
    """A fit with some pixels left out; None where little is left."""
    lost = _share(template, fit, patch, spoiled)
    if lost > 1.0 - _LEAST_LEFT:
        return None
    area = template.areas * _usable(patch, fit)
    return Sound(fit, spoiled, lost, replace(fit.inked, area=area), known)


def _outline_fits(
    patch: Patch, template: Template, arcs: Arcs, fit: Fit, edge_px: float
) -> list[Fit]:
    """Fits of the parts of an outline that show near another fit, which may be far off."""
    sign = math.copysign(1.0, fit.contrast)
    parts = fit_marks(
        [
            Start(_without(patch, ~one.shows), template, (one.row_px, one.col_px), known=True)
            for one in starts_near(patch, arcs, (fit.row_px, fit.col_px), edge_px, sign)
        ]
    )
    return [part for part in parts if part and part.contrast * sign > 0.0]


def _without(patch: Patch, some: np.ndarray) -> Patch:
    usable = np.float32(1.0) if patch.weight is None else patch.weight
    return replace(patch, weight=np.where(some, np.float32(0.0), usable))


def _spoiled(patch: Patch, template: Template, fit: Fit, edge_px: float) -> np.ndarray:
    """Pixels of a patch (H x W bool) that are damage by what a fit leaves of them."""
    left = fit.inked.left
    off = np.abs(left)
    damage = np.zeros(patch.light.shape, np.uint8)
    if off.max() <= _SEED[1] and template.areas_px @ (off > _NEXT[1]) <= _LARGE * edge_px:
        return damage > 0  # most marks, whatever the spread
    along = template.groups[0]
    outline = off.take(along).compress(fit.inked.area.take(along) > 0.0)
    spread = max(_ninth_tenth(outline) / 1.645, _ROUGH)
    seeded = off > max(_SEED[0] * spread, _SEED[1])
    next_to = max(_NEXT[0] * spread, _NEXT[1])
    alike_px = template.areas_px @ (off > next_to)
    if not seeded.any() and alike_px <= _LARGE * edge_px:
        return damage > 0  # nothing to begin with, and too little to be an area
    seeds = _painted(patch, template, fit, seeded)
    for sign in (1.0, -1.0):  # ink where none should be, and none where it should
        alike = _painted(patch, template, fit, sign * left > next_to)
        _, areas, shapes, _ = cv2.connectedComponentsWithStats(alike, connectivity=8)
        held = shapes[:, cv2.CC_STAT_AREA] > _LARGE * edge_px
        held[np.unique(areas[seeds > 0])] = True
        held[0] = False
        damage |= held.astype(np.uint8)[areas]
    rim = math.ceil(_RIM * edge_px + 1.0)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * rim + 1, 2 * rim + 1))
    return np.asarray(cv2.dilate(damage, disc) > 0)


def _ninth_tenth(sizes: np.ndarray) -> float:
    """What nine of ten are at most, 0 of none: np.percentile takes longer than all the rest."""
    if not sizes.size:
        return 0.0
    place = 0.9 * (sizes.size - 1)
    low = int(place)
    some = np.partition(sizes, [low, min(low + 1, sizes.size - 1)])
    return float(some[low] + (place - low) * (some[min(low + 1, sizes.size - 1)] - some[low]))


def _painted(patch: Patch, template: Template, fit: Fit, which: np.ndarray) -> np.ndarray:
    """H x W of 0 and 1: the places chosen (N bool), tiles as large as they are."""
    height, width = patch.light.shape
    rows, cols = _pixels(patch, fit)
    picture = np.zeros((height, width), np.uint8)
    for tiles in (False, True):
        some = which & (template.tile == tiles)
        within = some & (rows >= 0) & (rows < height) & (cols >= 0) & (cols < width)
        mask = np.zeros((height, width), np.uint8)
        mask[rows[within], cols[within]] = 1
        whole = cv2.dilate(mask, np.ones((TILE, TILE), np.uint8)) if tiles else mask
        picture = np.maximum(picture, whole)
    return picture


def _pixels(patch: Patch, fit: Fit) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns of a fit's places in the patch."""
    rows, cols = fit.inked.middle + fit.inked.pixel
    return rows - patch.row, cols - patch.col


def _usable(patch: Patch, fit: Fit) -> np.ndarray:
    """N bool, places of a fit whose pixel the patch lets be used."""
    height, width = patch.light.shape
    rows, cols = _pixels(patch, fit)
    within = (rows >= 0) & (rows < height) & (cols >= 0) & (cols < width)
    if patch.weight is None:
        return within
    known = patch.weight[np.clip(rows, 0, height - 1), np.clip(cols, 0, width - 1)]
    return np.asarray(within & (known > 0.0))


def _share(template: Template, fit: Fit, patch: Patch, spoiled: np.ndarray) -> float:
    """Share of the outline's places within some pixels."""
    height, width = spoiled.shape
    rows, cols = (places[template.edge] for places in _pixels(patch, fit))
    inside = spoiled[np.clip(rows, 0, height - 1), np.clip(cols, 0, width - 1)]
    return float(inside.mean())


def _unexplained(template: Template, fit: Fit, worst: float) -> float:
    """How badly a fit explains the whole outline, 0..1, each place counted to a limit."""
    off = np.minimum(np.abs(fit.inked.left[template.edge]) / worst, 1.0)
    return float((off * off).mean())
