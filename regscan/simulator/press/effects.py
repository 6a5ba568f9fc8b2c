"""Effects: where a cause gets hold of the press. A fault is a handful of these.

Amounts are micrometres and ppm throughout: a metre of web strained by 1 ppm is 1 um longer.
"""

from dataclasses import dataclass
from typing import Literal

from regscan.simulator.press.signals import Signal

Channel = Literal["circumferential", "lateral", "skew", "width"]
CHANNELS: tuple[Channel, ...] = ("circumferential", "lateral", "skew", "width")

DriveKind = Literal[
    "incoming_ppm",
    "drum_ppm",
    "drum_um",
    "hot_um",
    "shrink_ppm",
    "drag_ppm",
    "path_um",
    "width_ppm",
    "side_um",
    "roller_urad",
    "shift_um",
]


@dataclass(frozen=True, slots=True)
class PlateTerm:
    """One station's plate prints off by that many um; the web does not know of it.

    channel   circumferential (+ late), lateral (+ toward drive side), skew (drive-side mark
              minus operator-side mark, circumferential), width (the same, lateral).
    station   counted from 1; 0 for all.
    """

    station: int
    channel: Channel
    signal: Signal


@dataclass(frozen=True, slots=True)
class Drive:
    """Something that acts on the web. Station 0 stands for all stations or spans.

    incoming_ppm   tension strain of the web that arrives at station 1 (every drum grips), or
                   of the whole printing section (tension controlled).
    drum_ppm       surface of that station's drum runs faster by this (a larger drum).
    drum_um        surface of that station's drum has turned ahead by this.
    hot_um         alpha * dT * length of a zone before the station that is hotter than the nips.
    shrink_ppm     lasting shrinkage in the span before the station, at `share` of its length.
    drag_ppm       tension strain rises by this over an idler in the span before the station,
                   at `share` of its length.
    path_um        the span before the station is longer by this.
    width_ppm      free strain across the web from that station on, + is wider.
    side_um        the web arrives at station 1 that far toward the drive side.
    roller_urad    skew of the station's drum to the web.
    shift_um       sideways shift of the station's drum.

    tilt   True: the amount is drive side minus operator side of the web.
    """

    kind: DriveKind
    station: int
    signal: Signal
    share: float = 0.5
    tilt: bool = False


@dataclass(frozen=True, slots=True)
class ViewTerm:
    """The camera sees one station's mark off by that many um, at the moment of the frame."""

    station: int
    signal: Signal


@dataclass(frozen=True, slots=True)
class GroupTerm:
    """All marks of a frame lie off together, um along the web: no register error."""

    signal: Signal


@dataclass(frozen=True, slots=True)
class Loss:
    """Marks get lost on length_m of web about the web that passed station 1 at at_m.

    chance   that a mark in that stretch is missing.
    """

    at_m: float
    length_m: float
    chance: float


Effect = PlateTerm | Drive | ViewTerm | GroupTerm | Loss
