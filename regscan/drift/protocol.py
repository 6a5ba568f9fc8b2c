"""Whether a run holds what an acceptance protocol asks for; what is missing, in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ProtocolItem:
    """One thing the protocol asks.

    what     "speed", "holds", "times down and back", "ramp rates", "frames" ...
    wanted, found   in words; missing: what to do about it, "" where it is kept.
    """

    what: str
    wanted: str
    found: str
    missing: str

    @property
    def kept(self) -> bool:
        """True where nothing is to be done about it."""
        return not self.missing


@dataclass(frozen=True, slots=True)
class ProtocolCheck:
    """A run held against a protocol; kept when nothing is missing."""

    name: str
    items: tuple[ProtocolItem, ...]

    @property
    def kept(self) -> bool:
        """True where every item is kept."""
        return all(item.kept for item in self.items)

    @property
    def missing(self) -> tuple[str, ...]:
        """What to do about all that is not kept."""
        return tuple(item.missing for item in self.items if item.missing)
