"""What an entry of the table of causes is made of: signs, company, reason, checks."""

from dataclasses import dataclass

from regscan.drift.behaviour import Channel, TermKind

ONE = ("one",)
STAIR = ("stair", "span", "drum")
FAN = ("fan", "spans", "drums", "growing", "fan to", "fan from")
TWIST = ("twist",)
PASSING = ("strain", "pull")
ASIDE = ("side",)
ANY_STATIONS = ("one", "each")
SIDEWAYS = ("stair", "roller", "fan", "rollers", "one")


@dataclass(frozen=True, slots=True)
class Sign:
    """One way in which a cause shows.

    when   name of a further condition on the finding (regscan.drift.causes.conditions).
    """

    channels: tuple[Channel, ...]
    kinds: tuple[TermKind, ...]
    patterns: tuple[str, ...]
    weight: float = 0.0
    when: str = ""


@dataclass(frozen=True, slots=True)
class Company:
    """What mostly comes along in another channel or kind.

    same_station   it is named by the same station (or both by none).
    found, absent  weights where it was found, and where it was not but could have been.
    least          it moves at least this share of what it comes along with.
    """

    channels: tuple[Channel, ...]
    kinds: tuple[TermKind, ...]
    patterns: tuple[str, ...] = ()
    same_station: bool = True
    found: float = 3.0
    absent: float = 0.0
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One cause of the table."""

    name: str
    title: str
    signs: tuple[Sign, ...]
    reason: str
    first_check: str
    deciding: str
    company: tuple[Company, ...] = ()


ALONG: tuple[Channel, ...] = ("circumferential",)
ACROSS: tuple[Channel, ...] = ("lateral",)
SKEW: tuple[Channel, ...] = ("skew",)
WIDTH: tuple[Channel, ...] = ("width",)
ALONG_OR_SKEW: tuple[Channel, ...] = ("circumferential", "skew")
STOPPED = "With the press stopped and isolated:"
