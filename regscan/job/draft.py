"""Draft: as much of a job file as could be read, so that every check can still run."""

from dataclasses import dataclass, field

from regscan.job.job import (
    CameraPost,
    Colour,
    Ink,
    Overprint,
    Press,
    Station,
    Tolerance,
    Zero,
)
from regscan.job.layout import MarkDesign
from regscan.job.rules import AcceptanceRules, DirectionWords, GateRules


@dataclass
class Draft:
    """Parts in the order of the file; None where one could not be read.

    station_inks, mark_inks   the names alone, known even when the rest of the
                              table is wrong; None when not even the name is there.
    """

    name: str = ""
    reference: str | None = None
    press: Press | None = None
    inks: dict[str, Ink | None] | None = None
    stations: list[Station | None] = field(default_factory=list)
    station_inks: list[str | None] = field(default_factory=list)
    cameras: list[CameraPost | None] = field(default_factory=list)
    substrate: Colour | None = None
    marks: list[MarkDesign | None] = field(default_factory=list)
    mark_inks: list[str | None] = field(default_factory=list)
    overprints: list[Overprint | None] = field(default_factory=list)
    overprint_inks: list[tuple[str, ...]] = field(default_factory=list)
    zero: Zero = "design"
    tolerance: Tolerance | None = None
    ink_tolerances: dict[str, Tolerance | None] = field(default_factory=dict)
    gate: GateRules = field(default_factory=GateRules)
    direction_words: DirectionWords = field(default_factory=DirectionWords)
    acceptance: AcceptanceRules = field(default_factory=AcceptanceRules)

    def cover_is_invisible(self, ink: str) -> bool:
        """Whether that ink is known to leave nothing to see."""
        known = (self.inks or {}).get(ink)
        return known is not None and not known.measurable

    @property
    def all_marks_named(self) -> bool:
        """Whether every mark names its ink, so that a lacking one is really lacking."""
        return bool(self.mark_inks) and None not in self.mark_inks
