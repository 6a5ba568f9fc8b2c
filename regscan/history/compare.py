"""Two runs side by side: settled offsets and measures, and which of them differ."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from regscan.history.records import UNITS
from regscan.history.store import History
from regscan.job.job import Axis

SURE = 3.0
"""A difference counts from so many of its own standard deviations on: as for holds of a run
(regscan.drift.changes), a comparison asks dozens of questions at once."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One quantity of one station in two runs: second minus first.

    what   "offset" or a measure of health; unit as in regscan.history.records.
    change, sd, differs   None, None, False where it is not known in both.
    """

    station: int
    ink: str
    axis: Axis
    what: str
    unit: str
    first: float | None
    second: float | None
    change: float | None
    sd: float | None

    @property
    def differs(self) -> bool:
        """Whether the change is more than its doubt can make; never where there is no doubt."""
        return self.change is not None and self.sd is not None and abs(self.change) > SURE * self.sd


Value = tuple[float | None, float | None, str]
Key = tuple[int, str, Axis, str]


def compare(history: History, first: int, second: int) -> tuple[Difference, ...]:
    """Every quantity that either run knows. Raises BadHistory for a run that is not there."""
    history.entry(first)
    history.entry(second)
    one, other = dict(_values(history, first)), dict(_values(history, second))
    keys = sorted({*one, *other}, key=lambda key: (key[0], key[2], key[3] != "offset", key[3]))
    return tuple(_difference(key, one.get(key), other.get(key)) for key in keys)


def _values(history: History, number: int) -> Iterator[tuple[Key, Value]]:
    for setting in history.settings(number):
        key = setting.station, setting.ink, setting.axis, "offset"
        yield key, (setting.last_mm, setting.last_sd_mm, "mm")
    for reading in history.readings(number):
        unit = UNITS[reading.measure]
        key = reading.station, reading.ink, reading.axis, str(reading.measure)
        yield key, (reading.value, reading.sd, unit)


def _difference(key: Key, one: Value | None, other: Value | None) -> Difference:
    first, first_sd, unit = one or (None, None, "")
    second, second_sd, second_unit = other or (None, None, "")
    change = sd = None
    if first is not None and second is not None:
        change = second - first
        if first_sd is not None and second_sd is not None:
            sd = math.hypot(first_sd, second_sd)
    return Difference(*key, unit or second_unit, first, second, change, sd)
