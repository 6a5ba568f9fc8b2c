"""What the two web edges, and places round the repeat, say together: plain records for run.json.

Signs as everywhere: + is late, + is toward the drive side; skew is + where the drive side
is late, width is + where the drive-side mark lies further toward the drive side.
"""

from dataclasses import dataclass
from typing import Literal

Skewed = Literal["plate", "cylinder", "both", "neither", "cannot be told"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A number and its standard deviation; None where no doubt is known."""

    value: float
    sd: float | None


@dataclass(frozen=True, slots=True)
class EdgeLevel:
    """Both edges in one hold, from the operator-side offsets (x_O, y_O) and the drive-side ones.

    md_shift_mm    (x_O + x_D) / 2; cd_shift_mm   (y_O + y_D) / 2
    skew_mrad      (x_D - x_O) / W
    width_mm       y_D - y_O; width_strain_ppm   the same over W
    frames         pairs of offsets it rests on; of the edge with fewer where they do not pair.
    """

    segment: int
    speed_m_min: float | None
    frames: int
    md_shift_mm: Figure
    cd_shift_mm: Figure
    skew_mrad: Figure
    width_mm: Figure
    width_strain_ppm: Figure
    doubtful: bool


@dataclass(frozen=True, slots=True)
class EdgePair:
    """One colour at both web edges, as one camera or two cameras after one station saw it.

    camera, drive_camera   that of the operator edge, and that of the drive edge.
    spacing_mm             W, from mark set to mark set; spacing_from says whence, in words.
    paired                 True where both edges were seen on the same web, so that what
                           is common to them is not taken for two independent doubts.
    settled                the level of the last hold that has one.
    """

    station: int
    ink: str
    camera: str
    drive_camera: str
    spacing_mm: float
    spacing_from: str
    paired: bool
    levels: tuple[EdgeLevel, ...]
    settled: EdgeLevel | None


@dataclass(frozen=True, slots=True)
class RoundPlace:
    """One place round the repeat: how far the colour lies there from the mean of all places.

    place_mm   web position modulo the repeat.
    """

    place_mm: float
    frames: int
    circumferential_mm: Figure
    lateral_mm: Figure


@dataclass(frozen=True, slots=True)
class RoundRepeat:
    """One colour round the repeat: plate turned, cylinder across the press, run-out.

    edge           "both" where it rests on the mean of the two edges.
    places         in the order of the web; empty where frames show no clear places.
    rotation_mrad  turn of the plate, + with the drive side late: minus the slope of the
                   lateral offset round the repeat. None with fewer than two places.
    shear_mrad     the skew of the edges that is no turn. None unless both are known.
    run_out_mm     amplitude of once per repeat; None with fewer than three places.
    late_at_mm     where round the repeat it prints latest.
    run_out_found  True when the run-out is more than its doubt can make.
    answer, words  which it is, or that it cannot be told and what would tell.
    """

    station: int
    ink: str
    camera: str
    edge: str
    places: tuple[RoundPlace, ...]
    rotation_mrad: Figure | None
    shear_mrad: Figure | None
    run_out_mm: Figure | None
    late_at_mm: float | None
    run_out_found: bool
    answer: Skewed
    words: str
