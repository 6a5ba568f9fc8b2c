"""The job: press, inks, marks, tolerance. Frozen records, no arithmetic on images.

Read from job.toml by `regscan.job.read`. Signs and words as in docs/conventions.md.
"""

from dataclasses import dataclass, field
from typing import Literal

from regscan.job.layout import MarkDesign
from regscan.job.rules import AcceptanceRules, DirectionWords, GateRules
from regscan.job.turning import TurningPart

Cover = Literal["transparent", "opaque", "invisible"]
Axis = Literal["circumferential", "lateral"]
AXES: tuple[Axis, Axis] = ("circumferential", "lateral")
Edge = Literal["", "operator", "drive"]
Zero = Literal["design", "approved"]


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour as the job gives it.

    space   "lab" (CIE Lab, D50), "srgb" (0..255 each) or "taught" (camera
            values 0..1, linear light, relative to full scale).
    values  three numbers, or None for a taught colour not taught yet.
    """

    space: Literal["lab", "srgb", "taught"]
    values: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class Ink:
    """One ink. `invisible` (a clear varnish) is declared but never measured."""

    name: str
    colour: Colour | None
    cover: Cover = "transparent"

    @property
    def measurable(self) -> bool:
        return self.cover != "invisible"


@dataclass(frozen=True, slots=True)
class Overprint:
    """The colour seen where these inks lie on each other: given, or taught from a frame."""

    inks: frozenset[str]
    colour: Colour


@dataclass(frozen=True, slots=True)
class Steps:
    """The smallest move of a station's actuator on each axis, in mm on the web."""

    circumferential_mm: float = 0.01
    lateral_mm: float = 0.01

    def of(self, axis: Axis) -> float:
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm


@dataclass(frozen=True, slots=True)
class Play:
    """The play of a station's actuator on each axis, in mm on the web; 0 for none known."""

    circumferential_mm: float = 0.0
    lateral_mm: float = 0.0

    def of(self, axis: Axis) -> float:
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm


@dataclass(frozen=True, slots=True)
class Station:
    """One print station. number counts from 1 at the unwind; path_m is the web
    path from the station before (0 for the first).

    locked   may not be moved (already die-cut to, or no motor).
    grips    its plate grips the web, so that a move disturbs the stations after it.
    """

    number: int
    ink: str
    path_m: float
    steps: Steps = Steps()
    play: Play = Play()
    locked: bool = False
    grips: bool = False


@dataclass(frozen=True, slots=True)
class CameraPost:
    """A camera on the press: it looks at the web path_m after station `after_station`,
    and so sees the colours of stations 1..after_station."""

    name: str
    after_station: int
    path_m: float
    edge: Edge = ""
    file: str = ""


@dataclass(frozen=True, slots=True)
class Press:
    """The machine. Cameras may be empty: one unnamed camera after the last station.

    edge_spacing_mm   across the web from an operator-side mark to its drive-side twin;
                      None where the marks' own places or the web width must do.
    turning           drums, rollers and gears whose girth is known.
    """

    name: str
    repeat_mm: float
    web_width_mm: float
    stations: tuple[Station, ...]
    cameras: tuple[CameraPost, ...] = ()
    edge_spacing_mm: float | None = None
    turning: tuple[TurningPart, ...] = ()

    def camera(self, name: str) -> CameraPost:
        """The camera of that name; "" gives the only one, or one after the last station.

        Raises KeyError for a name the press does not have.
        """
        for post in self.cameras:
            if post.name == name or (name == "" and len(self.cameras) == 1):
                return post
        if name == "":
            return CameraPost("", self.stations[-1].number, 0.0)
        raise KeyError(name)

    def path_between_m(self, station: int, other: int) -> float:
        """Web path in m from one station to a later one (negative for an earlier one)."""
        low, high = sorted((station, other))
        path = sum(s.path_m for s in self.stations if low < s.number <= high)
        return path if other >= station else -path

    def path_to_camera_m(self, station: int, camera: str = "") -> float:
        """Web path in m from a station to the camera: the marks' age in metres."""
        post = self.camera(camera)
        return self.path_between_m(station, post.after_station) + post.path_m


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Largest allowed |offset| per axis in mm, and who said so (printed in every report)."""

    circumferential_mm: float
    lateral_mm: float
    source: str = ""

    def of(self, axis: Axis) -> float:
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm


@dataclass(frozen=True)
class Job:
    """Everything the job file says.

    zero   what an offset of 0 means: the colour lies as the "design" has it against the
           reference, or as the "approved" sheet has it (MarkDesign.approved).
    """

    name: str
    press: Press
    inks: tuple[Ink, ...]
    substrate: Colour
    reference: str
    marks: tuple[MarkDesign, ...]
    tolerance: Tolerance
    ink_tolerances: dict[str, Tolerance] = field(default_factory=dict)
    path: str = ""
    overprints: tuple[Overprint, ...] = ()
    zero: Zero = "design"
    gate: GateRules = field(default_factory=GateRules)
    direction_words: DirectionWords = field(default_factory=DirectionWords)
    acceptance: AcceptanceRules = field(default_factory=AcceptanceRules)

    @property
    def zero_words(self) -> str:
        """What offsets count from, for people; named in every result."""
        return "the approved sheet" if self.zero == "approved" else "the design"

    def ink(self, name: str) -> Ink:
        return next(ink for ink in self.inks if ink.name == name)

    def station_of(self, ink: str) -> Station:
        return next(s for s in self.press.stations if s.ink == ink)

    def tolerance_for(self, ink: str) -> Tolerance:
        return self.ink_tolerances.get(ink, self.tolerance)

    @property
    def unmeasurable_inks(self) -> tuple[str, ...]:
        """Inks that leave no visible mark, in print order: listed, never dropped."""
        return tuple(s.ink for s in self.press.stations if not self.ink(s.ink).measurable)

    def marks_seen(self, camera: str = "", edge: str = "") -> tuple[MarkDesign, ...]:
        """The marks a frame of that camera and edge should show.

        A camera over station k sees the colours of stations 1..k. A frame or
        camera tied to one web edge sees that edge's mark set; otherwise all.
        """
        post = self.press.camera(camera)
        wanted = edge or post.edge
        seen = {s.ink for s in self.press.stations if s.number <= post.after_station}
        return tuple(
            m for m in self.marks if m.ink in seen and (not wanted or m.edge in ("", wanted))
        )
