"""Which runs are old enough to go. Choosing deletes nothing; History.remove does."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from regscan.history.records import Entry
from regscan.history.store import seconds


@dataclass(frozen=True, slots=True)
class Prune:
    """What may go: everything that every given rule allows.

    before    runs measured before this moment, ISO 8601.
    keep      all but so many of the newest runs of each job on each press.
    numbers   these runs by their number in the history.
    """

    before: str = ""
    keep: int | None = None
    numbers: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.before or self.keep is not None or self.numbers)


def chosen(entries: Sequence[Entry], prune: Prune) -> list[Entry]:
    """The runs that go, in their order; none where no rule is given."""
    if not prune:
        return []
    limit = seconds(prune.before) if prune.before else None
    spared = _spared(entries, prune.keep) if prune.keep is not None else set()
    return [
        entry
        for entry in entries
        if (limit is None or seconds(entry.made_at) < limit)
        and entry.number not in spared
        and (not prune.numbers or entry.number in prune.numbers)
    ]


def _spared(entries: Sequence[Entry], keep: int) -> set[int]:
    runs: dict[tuple[str, str], list[int]] = defaultdict(list)
    for entry in entries:
        runs[entry.press, entry.job].append(entry.number)
    return {number for numbers in runs.values() if keep for number in numbers[-keep:]}
