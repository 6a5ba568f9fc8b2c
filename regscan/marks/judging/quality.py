"""How far to trust a fitted mark: from what the fit says to flags and a status."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import reduce
from operator import or_

import numpy as np

from regscan.marks.clusters import Box
from regscan.marks.fitting.fit import Fit
from regscan.marks.flags import MarkFlag
from regscan.marks.limits import LIMITS
from regscan.marks.mark import CLEAN, Mark, Status
from regscan.marks.overlap.edgewise import EdgeFit
from regscan.marks.overlap.joint import JointMark
from regscan.marks.printing import Printing
from regscan.marks.seeing.inks import Palette, line_distances
from regscan.marks.seeing.inkstep import InkStep
from regscan.marks.shape.template import Template

# With one of these a mark is still measured, but not believed without a look.
DOUBTFUL = (
    MarkFlag.CLIPPED
    | MarkFlag.SMEARED
    | MarkFlag.FAINT
    | MarkFlag.INK_UNSURE
    | MarkFlag.MISSHAPEN
    | MarkFlag.CROWDED
    | MarkFlag.SATURATED
    | MarkFlag.NO_FIT
    | MarkFlag.HOLES
    | MarkFlag.SLURRED
)


def status_of(flags: MarkFlag) -> Status:
    """ok without a doubtful flag."""
    return "doubtful" if flags & DOUBTFUL else "ok"


def any_of(*flags: MarkFlag) -> MarkFlag:
    """All flags together; of a clean mark, as most are, without a step for each."""
    return reduce(or_, filter(None, flags), CLEAN)


def with_flag(mark: Mark, flag: MarkFlag) -> Mark:
    """The mark with one more flag, and the status that gives it."""
    flags = mark.flags | flag
    return replace(mark, flags=flags, status=status_of(flags))


def not_there(mark: Mark) -> Mark:
    """The mark missing: what was found there is something else in a colour like its ink's."""
    return Mark(mark.ink, mark.edge, "missing", flags=MarkFlag.INK_UNSURE)


def fit_flags(fit: Fit, template: Template, size: tuple[int, int]) -> MarkFlag:
    """Flags from the fit alone: its noise, shape and place in a frame of that size."""
    flags = CLEAN
    if not fit.converged:
        flags |= MarkFlag.NO_FIT
    if abs(fit.contrast) < LIMITS.contrast_over_noise * fit.noise:
        flags |= MarkFlag.FAINT
    if max(fit.row_var, fit.col_var) > LIMITS.centre_sd_px**2:
        flags |= MarkFlag.FAINT
    area = area_ratio(fit, template)
    if beyond_noise(fit) > LIMITS.misfit or not LIMITS.area_low <= area <= LIMITS.area_high:
        flags |= MarkFlag.MISSHAPEN
    if fit.used_share < LIMITS.used_share:
        flags |= MarkFlag.CROWDED
    box = Box(fit.row_px, fit.col_px, template.reach_rows, template.reach_cols)
    return any_of(flags, cut_flags(box, size))


def beyond_noise(fit: Fit) -> float:
    """What the edge's pixels differ from the fit besides noise, share of the contrast."""
    return math.sqrt(max(fit.misfit**2 - (fit.noise / fit.contrast) ** 2, 0.0))


def beyond_edge_noise(fit: Fit) -> float:
    """The same, what pixels of the edge have of noise taken off: being brighter than the darkest of
    the mark, which the fit's noise is that of, they have more."""
    noise = fit.settled.edge_noise(fit.number) / fit.contrast
    return math.sqrt(max(fit.misfit**2 - noise**2, 0.0))


def joint_flags(mark: JointMark, area: float) -> MarkFlag:
    """Flags of a mark measured together with others it touches.

    area   its inked one over the design's.
    """
    flags = CLEAN
    if not mark.settled:
        flags |= MarkFlag.NO_FIT
    if max(mark.covariance[0, 0], mark.covariance[1, 1]) > LIMITS.centre_sd_px**2:
        flags |= MarkFlag.FAINT
    if not LIMITS.presence_low <= mark.presence <= LIMITS.presence_high:
        flags |= MarkFlag.INK_UNSURE
    if mark.misfit > LIMITS.joint_misfit or not LIMITS.area_low <= area <= LIMITS.area_high:
        flags |= MarkFlag.MISSHAPEN
    return flags


def outline_flags(fit: EdgeFit, area: float, mm_per_px: float, runs_on: float) -> MarkFlag:
    """Flags of a mark measured by its outline.

    area      its inked one over the design's.
    runs_on   share of its outline beyond which its own ink goes on (see own_ink_beyond).
    """
    flags = CLEAN
    if max(fit.covariance[0, 0], fit.covariance[1, 1]) > LIMITS.centre_sd_px**2:
        flags |= MarkFlag.FAINT
    if not LIMITS.presence_low <= fit.step <= LIMITS.presence_high:
        flags |= MarkFlag.INK_UNSURE
    # A larger or smaller shape of the same form has much of its outline where the mark has its.
    grown_um = 1000.0 * mm_per_px * abs(fit.growth_px)
    if not LIMITS.area_low <= area <= LIMITS.area_high or grown_um > LIMITS.grown_um:
        flags |= MarkFlag.MISSHAPEN
    if runs_on > LIMITS.own_ink_beyond:
        flags |= MarkFlag.MISSHAPEN
    if fit.support < LIMITS.outline_share or fit.told < LIMITS.outline_told:
        flags |= MarkFlag.CROWDED
    return flags


def printing_flags(printing: Printing) -> MarkFlag:
    """Flags from how the mark is printed."""
    flags = CLEAN
    # A screened tint has holes all over; a damaged mark has them in one place.
    if printing.fill < LIMITS.fill and printing.patchiness > LIMITS.patchiness:
        flags |= MarkFlag.HOLES
    slur = abs(printing.slur_um)
    if slur > LIMITS.slur_um and slur > LIMITS.slur_over_sideways * abs(printing.sideways_um):
        flags |= MarkFlag.SLURRED
    if printing.at_full > LIMITS.full_share:
        flags |= MarkFlag.SATURATED
    if not 1.0 / LIMITS.roundness <= printing.roundness <= LIMITS.roundness:
        flags |= MarkFlag.MISSHAPEN
    return flags


def size_flags(fit: Fit, template: Template, mm_per_px: float) -> MarkFlag:
    """MISSHAPEN for a mark smaller or larger all round than print can make it."""
    shrunk_px = (1.0 - area_ratio(fit, template)) * template.area_px / template.area_per_growth_px
    shrunk_um = 1000.0 * mm_per_px * shrunk_px
    likely = -LIMITS.grown_um <= shrunk_um <= LIMITS.shrunk_um
    return CLEAN if likely else MarkFlag.MISSHAPEN


def tint_flags(fit: Fit, mm_per_px: float) -> MarkFlag:
    """MISSHAPEN for a tint grown by as much as only an edge between two rows of dots can seem."""
    grown_um = 1000.0 * mm_per_px * fit.wander.growth.px
    likely = -LIMITS.tint_shrunk_um <= grown_um <= LIMITS.tint_grown_um
    return CLEAN if likely else MarkFlag.MISSHAPEN


def cut_flags(box: Box, size: tuple[int, int]) -> MarkFlag:
    """CLIPPED for a mark that the frame's border cuts."""
    return MarkFlag.CLIPPED if cut_share(box, size) > LIMITS.cut_share else CLEAN


def area_ratio(fit: Fit, template: Template) -> float:
    """Inked area over the design's, from the growth the fit found."""
    grown = template.grown_area_px + fit.growth_px * template.area_per_growth_px
    return grown / template.area_px


def cut_share(box: Box, size: tuple[int, int]) -> float:
    """Share of the mark's extent that lies beyond the frame's border, 0 for a whole mark."""
    beyond = []
    for place, reach, length in (
        (box.row, box.half_rows, size[0]),
        (box.col, box.half_cols, size[1]),
    ):
        over = max(-0.5 - (place - reach), (place + reach) - (length - 0.5), 0.0)
        beyond.append(over / (2.0 * reach))
    return max(beyond)


def own_ink_beyond(outside: np.ndarray, palette: Palette, name: str) -> float:
    """Share of an outline's arcs beyond which the mark's own ink goes on.

    outside   A x C, light beside every arc, the substrate's colour where nothing is printed.
    """
    own = palette.names.index(name)
    distance, cover = line_distances(outside, palette, slice(own, own + 1))
    return float(((distance < LIMITS.ink_distance) & (cover > 0.3)).mean())


def step_flags(fit: EdgeFit, palette: Palette, name: str) -> MarkFlag:
    """INK_UNSURE where the step at an outline is that of another ink: among marks of one shape,
    that alone says whose the outline is. Or where much of it is a step that its ink cannot make, or
    lies beside light that no print reflects."""
    inside, outside = fit.inside[fit.agree], fit.outside[fit.agree]
    left = _middles(InkStep.of_all(palette).unlike(inside, outside))
    rival = left[palette.names.index(name)] > left.min() + LIMITS.step_rival
    too_large = InkStep.of(palette, name).too_large(inside, outside).mean() > LIMITS.step_too_large
    brightest = np.maximum(palette.substrate, palette.inks.max(axis=0))
    glaring = (outside > LIMITS.brightest * brightest).all(axis=1).mean() > 0.5
    return MarkFlag.INK_UNSURE if rival or too_large or glaring else CLEAN


def _middles(values: np.ndarray) -> np.ndarray:
    """Medians of rows (K x N): numpy's own takes ten times as long over a few."""
    half = values.shape[1] // 2
    low = half if values.shape[1] % 2 else half - 1
    some = np.partition(values, (low, half), axis=1)
    return np.asarray((some[:, low] + some[:, half]) / 2.0)


def ink_flags(colours: np.ndarray, palette: Palette, names: Sequence[str]) -> list[MarkFlag]:
    """INK_UNSURE where a mark's colour is not its ink's, or as well another's.

    colours   M x C, the marks' light over the paper's, times the substrate's colour.
    names     their M inks.
    """
    if colours.shape[1] == 1:
        return [CLEAN] * len(colours)  # one channel says nothing about which ink it is
    known = np.isfinite(colours).all(axis=1)
    distances, covers = line_distances(np.where(known[:, None], colours, 0.0), palette)
    flags = []
    for told, distance, cover, name in zip(
        known.tolist(), distances.tolist(), covers.tolist(), names, strict=True
    ):
        clear = told and _clearly_own(distance, cover, palette.names.index(name))
        flags.append(CLEAN if clear else MarkFlag.INK_UNSURE)
    return flags


def _clearly_own(distance: list[float], cover: list[float], own: int) -> bool:
    """Whether a colour so far from every ink's line, and so far along it, is clearly one ink's."""
    if distance[own] > LIMITS.ink_distance:
        return False
    # Two inks of one hue share a line: how far along it the colour lies then tells them apart,
    # where that is more than an ink's density varies from day to day.
    aside = abs(cover[own] - 1.0) + LIMITS.ink_cover
    for other, (far, along) in enumerate(zip(distance, cover, strict=True)):
        if other == own or along <= 0.3 or far >= distance[own] + LIMITS.ink_rival_margin:
            continue
        if far < distance[own] - LIMITS.ink_rival_margin or abs(along - 1.0) < aside:
            return False
    return True
