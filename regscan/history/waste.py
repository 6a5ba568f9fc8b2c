"""Metres of web outside tolerance, month by month."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from regscan.history.records import Entry


@dataclass(frozen=True, slots=True)
class Month:
    """The runs measured in one month.

    month     such as 2026-11, by the clock that each run's own time was written in.
    metres, metres_outside   of the runs that know both, m of web.
    unknown   runs without web positions: in no sum, and said.
    out       runs that the gate found out of tolerance.
    """

    month: str
    runs: int
    unknown: int
    out: int
    metres: float
    metres_outside: float

    @property
    def share(self) -> float | None:
        """Of the measured web that was outside; None where no metre is known."""
        return self.metres_outside / self.metres if self.metres else None


def waste_of(entries: Sequence[Entry]) -> tuple[Month, ...]:
    """One record per month in which anything was measured, oldest first."""
    months: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        months[entry.made_at[:7]].append(entry)
    return tuple(_month(name, months[name]) for name in sorted(months))


def _month(name: str, entries: Sequence[Entry]) -> Month:
    known = [
        (entry.metres, entry.metres_outside)
        for entry in entries
        if entry.metres is not None and entry.metres_outside is not None
    ]
    return Month(
        month=name,
        runs=len(entries),
        unknown=len(entries) - len(known),
        out=sum(entry.answer == "out of tolerance" for entry in entries),
        metres=sum(metres for metres, _ in known),
        metres_outside=sum(outside for _, outside in known),
    )
