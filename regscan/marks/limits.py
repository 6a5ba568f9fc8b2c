"""Where doubt about a mark begins: every threshold, with what it is compared to.

docs/flags.md is printed from this table. The values were chosen on drawn frames
(tests/bench/families) so that no mark that is wrong by more than 50 um passes
for ok; none of them comes from a standard.
"""

from dataclasses import dataclass, field, fields


def _limit(value: float, means: str) -> float:
    return field(default=value, metadata={"means": means})


@dataclass(frozen=True, slots=True)
class Limits:
    """Thresholds of the flags; `meanings` has a sentence for each."""

    contrast_over_noise: float = _limit(3.0, "FAINT below this contrast over the pixel noise")
    centre_sd_px: float = _limit(0.5, "FAINT above this standard deviation of the centre")
    centre_lost_px: float = _limit(
        1.0,
        "missing above this, for marks on each other: a place known worse than an edge is wide is"
        " a guess, and its standard deviation too",
    )
    ink_distance: float = _limit(
        0.16, "INK_UNSURE above this distance of the colour from its ink's, in square-root light"
    )
    ink_rival_margin: float = _limit(
        0.04, "INK_UNSURE where another ink is no further from the colour than this beyond its own"
    )
    ink_cover: float = _limit(
        0.1,
        "INK_UNSURE where another ink of the same hue would have to be printed no more than this"
        " share denser or thinner than the own to look like it",
    )
    rival_likeness: float = _limit(
        0.97, "INK_UNSURE where a second place looks at least this share as good"
    )
    misfit: float = _limit(
        0.16, "MISSHAPEN above this residual along the edge over the contrast, noise taken off"
    )
    misfit_most: float = _limit(
        0.5,
        "missing above this: as much as one even colour would leave of an edge, so that the fit"
        " explains nothing there",
    )
    joint_misfit: float = _limit(
        0.15, "the same for marks that lie on each other, noise not taken off"
    )
    area_low: float = _limit(0.6, "MISSHAPEN below this area over the design's")
    area_high: float = _limit(1.6, "MISSHAPEN above this area over the design's")
    shrunk_um: float = _limit(
        15.0,
        "MISSHAPEN where edges lie further than this inside the design's all round: print grows,"
        " so a smaller mark of the same shape is part of one",
    )
    grown_um: float = _limit(
        60.0,
        "MISSHAPEN when a mark has grown by more all round: impression and ink spread do less",
    )
    tint_shrunk_um: float = _limit(
        5.0,
        "MISSHAPEN where the edges of a tint lie further than this inside the design's: one of"
        " them then lies between two rows of dots, and may be anywhere there",
    )
    tint_grown_um: float = _limit(15.0, "the same of edges outside the design's")
    roundness: float = _limit(1.25, "MISSHAPEN beyond this roundness, or its inverse")
    edge_width_px: float = _limit(5.0, "SMEARED above this width of the edge")
    edge_over_others: float = _limit(
        2.2, "SMEARED above this width of the edge over the frame's median"
    )
    slur_um: float = _limit(40.0, "SLURRED above this length of smear along the web")
    slur_over_sideways: float = _limit(
        3.0, "SLURRED only if the smear is this many times what is seen across the web"
    )
    fill: float = _limit(0.8, "HOLES below this inked share of the mark's inside")
    patchiness: float = _limit(
        0.3, "HOLES only if the quarters' fills differ by this; a screened tint's do not"
    )
    full_share: float = _limit(
        0.5,
        "SATURATED where this share of the mark or of the paper beside it is at the end of scale",
    )
    used_share: float = _limit(0.6, "CROWDED below this share of usable pixels")
    lost_outline: float = _limit(
        0.2, "CROWDED above this share of the outline left out because of damage"
    )
    cut_share: float = _limit(0.02, "CLIPPED above this share of the extent beyond the border")
    cut_away: float = _limit(0.3, "missing above this share of the extent beyond the border")
    presence_least: float = _limit(
        0.3, "missing below this step in colour over the expected one, for marks on each other"
    )
    presence_low: float = _limit(0.5, "INK_UNSURE below this step over the expected one")
    presence_high: float = _limit(1.7, "INK_UNSURE above this step over the expected one")
    outline_least: float = _limit(
        0.3, "missing below this share of the outline, for marks known by their outline only"
    )
    own_ink_beyond: float = _limit(
        0.2,
        "MISSHAPEN when a mark's own ink goes on beyond more of its outline: a part of something"
        " larger, for marks known by their outline",
    )
    outline_share: float = _limit(
        0.6,
        "CROWDED below this share of the outline, for marks known by their outline only: a corner"
        " of artwork in the mark's ink has half of a square's",
    )
    slur_others: float = _limit(
        3.5,
        "all marks are read as slurred where one is for sure and half of them gain this much by it,"
        " in units of what noise leaves of one place; rough edges alone: under 3",
    )
    unlike_others: float = _limit(
        3.5,
        "MISSHAPEN where the fit leaves this many times as much of a mark's edge as of the others'",
    )
    unlike_least: float = _limit(
        0.05, "MISSHAPEN for that only above this share of the contrast, noise not counted"
    )
    growth_apart_um: float = _limit(
        10.0,
        "MISSHAPEN when a mark known by its outline has grown by this much more or less than the"
        " others of its frame",
    )
    outline_told: float = _limit(
        0.6,
        "CROWDED where less of the few arcs of an outline that tell its place in one direction"
        " agree on it",
    )
    step_rival: float = _limit(
        0.1,
        "INK_UNSURE where another ink leaves this much less of the step at an outline over, as a"
        " share of the step",
    )
    step_too_large: float = _limit(
        0.3,
        "INK_UNSURE where more of an outline is a step larger than the ink makes, though the ink"
        " looks the same where its step is not",
    )
    brightest: float = _limit(
        2.0,
        "INK_UNSURE where light beside most of an outline is this many times that of the job's"
        " brightest colour: the level of the light is not known there",
    )
    readings_apart: float = _limit(
        5.0, "MISSHAPEN where a mark's outline and its whole lie this many sd apart"
    )


LIMITS = Limits()


def meanings() -> list[tuple[str, float, str]]:
    """(name, value, meaning) of every threshold, in order."""
    return [(f.name, getattr(LIMITS, f.name), f.metadata["means"]) for f in fields(Limits)]
