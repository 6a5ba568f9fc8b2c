"""Moves that were made and do not show yet: which frames still hold the old setting."""

from collections.abc import Iterable
from dataclasses import dataclass

from regscan.job.job import Axis, Job
from regscan.verdict.movelog import Made
from regscan.verdict.seen import BY_HAND_M
from regscan.verdict.waits import wait_m, wait_s
from regscan.verdict.words import move_words
from regscan.watch.entry import Entry
from regscan.watch.watched import Wait


@dataclass(slots=True)
class _Asked:
    """One move. until_m: web at the camera from which on frames show it alone; None where the
    frames carry no place, and then `passed` is the frame after which somebody said so."""

    made: Made
    inks: frozenset[str]
    total_m: float
    until_m: float | None
    passed: int | None = None

    def touches(self, ink: str, axis: Axis) -> bool:
        return axis == self.made.axis and ink in self.inks

    def shows_in(self, entry: Entry) -> bool:
        if self.passed is not None:
            return entry.number > self.passed
        web = entry.info.web_m
        return self.until_m is not None and web is not None and web >= self.until_m


class Pending:
    """All moves of a job, in the order they were made."""

    def __init__(self, job: Job, made: Iterable[Made] = ()) -> None:
        self._job = job
        self.moves: list[_Asked] = []
        for one in made:
            self.add(one)

    def add(self, made: Made) -> None:
        """A move that was just made."""
        station = self._job.press.stations[made.station - 1]
        total = wait_m(station, self._job)
        until = None if made.web_m is None else made.web_m + total
        self.moves.append(_Asked(made, self._disturbed(made), total, until))

    def pass_all(self, frame: int) -> bool:
        """Somebody says the web has passed, after that frame; whether anything waited for it."""
        waiting = [one for one in self.moves if one.until_m is None and one.passed is None]
        for one in waiting:
            one.passed = frame
        return bool(waiting)

    def counts(self, ink: str, axis: Axis, entry: Entry) -> bool:
        """Whether a frame shows a colour as it is set now on that axis."""
        return all(one.shows_in(entry) for one in self.moves if one.touches(ink, axis))

    def settles(self, ink: str, entry: Entry) -> bool:
        """Whether a frame may show a colour half moved, or is the first that shows it moved."""
        mine = [one for one in self.moves if ink in one.inks]
        web, untils = entry.info.web_m, [one.until_m for one in mine if one.until_m is not None]
        late = web is not None and any(web < until + BY_HAND_M for until in untils)
        return late or not all(one.shows_in(entry) for one in mine)

    def waits(self, newest: Entry | None) -> tuple[Wait, ...]:
        """What has to be waited for, one per station and axis, in print order."""
        open_ = [one for one in self.moves if newest is None or not one.shows_in(newest)]
        longest: dict[tuple[int, Axis], Wait] = {}
        for one in open_:  # in the order they were made, so the last one is waited for longest
            longest[one.made.station, one.made.axis] = _wait(one, newest)
        return tuple(longest[key] for key in sorted(longest))

    def _disturbed(self, made: Made) -> frozenset[str]:
        """Colours whose frames say nothing until the move shows."""
        stations = self._job.press.stations
        if made.ink == self._job.reference:
            return frozenset(station.ink for station in stations)
        gripping = stations[made.station - 1].grips and made.axis == "circumferential"
        later = {s.ink for s in stations if s.number > made.station} if gripping else set()
        return frozenset({made.ink} | later)


def _wait(one: _Asked, newest: Entry | None) -> Wait:
    made, info = one.made, newest.info if newest else None
    left = None
    if one.until_m is not None and info is not None and info.web_m is not None:
        left = max(one.until_m - info.web_m, 0.0)
    after = move_words(made.axis, made.move_mm)
    if one.passed is not None:
        words = "wait for the next frame"
        return Wait(made.station, made.ink, after, one.total_m, 0.0, words)
    metres = one.total_m if left is None else left
    seconds = wait_s(metres, info.speed_m_min if info else None)
    time = "" if seconds is None else f" (about {seconds:.0f} s)"
    return Wait(made.station, made.ink, after, one.total_m, left, f"wait {metres:.1f} m{time}")
