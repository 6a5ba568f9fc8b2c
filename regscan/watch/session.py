"""One job while it is watched: takes frame after frame and wish after wish, tells how it stands.

Not for several threads at once: the desk keeps them apart.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from regscan.camera.camera import Camera
from regscan.drift.monitor import Alert, Monitor
from regscan.job.job import Job
from regscan.journal.origin import Origin, digest
from regscan.journal.record import FrameRecord
from regscan.verdict.movelog import Made
from regscan.verdict.words import move_words
from regscan.watch.advising import Now, advice, effects
from regscan.watch.entry import Entry, Memory, offsets_of
from regscan.watch.forewarned import Forewarned
from regscan.watch.kept import EventLog, JobFolder, file_name
from regscan.watch.looking import Sights
from regscan.watch.pending import Pending
from regscan.watch.refused import Refused
from regscan.watch.watched import (
    Actuator,
    Condition,
    Event,
    EventKind,
    StationState,
    Wait,
)
from regscan.watch.zero import Zero, approve, with_zero

CHECKED_AFTER = 5  # frames of the new setting, from which on a move is judged
GIVEN_UP_AFTER = 20  # frames, after which one that cannot be told stays so


@dataclass(frozen=True, slots=True)
class Given:
    """What a job is watched with."""

    job: Job
    cameras: Mapping[str, Camera]

    @property
    def origin(self) -> Origin:
        """By what a watch that was stopped knows that it is the same job."""
        return {
            "job": digest(replace(self.job, path="")),
            "camera": digest(dict(self.cameras)),
        }


def now_words() -> str:
    """Local time for the log, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


class Session:
    """A job, its folder, and everything told from its frames."""

    def __init__(self, given: Given, kept: JobFolder, log: EventLog) -> None:
        self.given, self.kept, self.log = given, kept, log
        self.memory = Memory(given.job)
        self.zero: Zero | None = kept.zero
        self.memory.count_from(with_zero(given.job, self.zero))
        self.pending = Pending(given.job, kept.moves(given.job))
        self.checked: set[int] = set()
        self.monitor, self.forewarned = Monitor(self.memory.job), Forewarned()
        self.unusable = 0
        self.names: Counter[str] = Counter()
        self.stations: tuple[StationState, ...] = ()
        self.now = Now()
        self._stood: dict[int, Condition] = {}

    @property
    def job(self) -> Job:
        """The job as offsets count now."""
        return self.memory.job

    def go_on(self) -> None:
        """Take in what was kept before; what was told then is not told again."""
        for record in self.kept.records():
            self.names[file_name(record.name)] += 1
            if record.why:
                self.unusable += 1
            else:
                self.memory.add(record)
        self._feed_anew()
        self.checked = set(range(len(self.pending.moves)))
        newest = self.memory.newest
        for k, one in enumerate(self.pending.moves):
            if one.until_m is None:
                one.passed = self.memory.measured
            elif newest is None or not one.shows_in(newest):
                self.checked.discard(k)
        self._look()
        self._stood = {one.number: one.condition for one in self.stations}

    def add(self, record: FrameRecord) -> None:
        """The next frame, already kept. Everything that it brings about is put into the log."""
        self.names[file_name(record.name)] += 1
        if record.why:
            self.unusable += 1
            self.say("frame not used", f"{record.name} {record.why}: {record.cure}", record.name)
            return
        entry = self.memory.add(record)
        self._monitor(entry)
        self._look()
        self._tell_changes(entry)
        self._check_moves(entry)

    def advise(self) -> None:
        """Tell the moves to make now; costs more than a look, so not for every frame of a burst."""
        self.now = advice(self.memory, self.pending, self.given.cameras)

    def made(self, made: Made) -> None:
        """Somebody made a move."""
        self.kept.add_move(made)
        self.pending.add(made)
        after = move_words(made.axis, made.move_mm)
        waits = [w for w in self.waits() if (w.station, w.after) == (made.station, after)]
        wait = waits[-1] if waits else None
        then = f"; {wait.words}" if wait else ""
        self.say(
            "move made",
            f"Station {made.station} {made.ink}: {_move(made)}{then}",
            station=made.station,
        )
        self._look()
        self._stood = {one.number: one.condition for one in self.stations}
        self.advise()

    def waited(self) -> None:
        """Somebody says that enough web has passed. Raises Refused where nothing waits for it."""
        if not self.pending.pass_all(self.memory.measured):
            raise Refused("No move waits for you to say so; the frames tell how much web passed.")
        self.say("waited", "The web has passed: frames from here on show the new setting")
        self._look()
        self.advise()

    def approve(self) -> None:
        """The newest frames are the zero from now on. Raises Refused where they cannot be."""
        if self.waits():
            raise Refused("The zero was not approved: a move does not show yet; wait for it.")
        self.zero = approve(self.memory.base_rows(), self.memory.base, now_words())
        self.kept.keep_zero(self.zero)
        self.memory.count_from(with_zero(self.given.job, self.zero))
        self._feed_anew()
        self.say("zero approved", f"Offsets count from {self.zero.words}")
        self._look()
        self._stood = {one.number: one.condition for one in self.stations}
        self.advise()

    def waits(self) -> tuple[Wait, ...]:
        """What has to be waited for."""
        return self.pending.waits(self.memory.newest)

    def zero_words(self) -> str:
        """What offsets count from."""
        return self.zero.words if self.zero else self.given.job.zero_words

    def actuators(self) -> tuple[Actuator, ...]:
        """Every station that may be moved."""
        return tuple(
            Actuator(s.number, s.ink, s.steps.circumferential_mm, s.steps.lateral_mm)
            for s in self.job.press.stations
            if not s.locked
        )

    def say(self, kind: EventKind, words: str, frame: str = "", station: int = 0) -> None:
        """Put something into the log."""
        newest = self.memory.newest
        web = newest.info.web_m if newest else None
        self.log.add(Event(0, now_words(), kind, words, frame, web, station))

    def with_trends(self) -> tuple[StationState, ...]:
        """The stations as they are, with their trends."""
        return Sights(self.memory, self.pending, self.forewarned.words, True).stations()

    def _look(self) -> None:
        self.stations = Sights(self.memory, self.pending, self.forewarned.words).stations()

    def _feed_anew(self) -> None:
        self.monitor, self.forewarned = Monitor(self.memory.job), Forewarned()
        for entry in self.memory.entries:
            self._monitor(entry, aloud=False)

    def _monitor(self, entry: Entry, aloud: bool = True) -> None:
        """Feed the monitor; what a move brings about is no news, and no warning."""
        moving = {s.ink for s in self.job.press.stations if self.pending.settles(s.ink, entry)}
        if self.job.reference in moving:
            moving = {station.ink for station in self.job.press.stations}
        alerts = self.monitor.feed(entry.info, offsets_of(entry.offsets))
        alerts = tuple(alert for alert in alerts if alert.ink not in moving)
        if moving:
            self.monitor.restart(moving)
        self.forewarned.follow(entry.number, alerts, self.monitor.now())
        for alert in alerts if aloud else ():
            self._warn(alert)

    def _warn(self, alert: Alert) -> None:
        kind: EventKind = "early warning" if alert.kind == "early warning" else "shift"
        self.say(kind, alert.sentence, alert.frame, alert.station)

    def _tell_changes(self, entry: Entry) -> None:
        for station in self.stations:
            before, now = self._stood.get(station.number), station.condition
            if kind := _change(before, now):
                words = f"Station {station.number} {station.ink}: {_now_words(now)}{station.words}"
                self.say(kind, words, entry.info.name, station.number)
            if now in ("in register", "out of tolerance", "not found", "wait"):
                self._stood[station.number] = now

    def _check_moves(self, entry: Entry) -> None:
        """Judge the moves that show for long enough."""
        due = [k for k in range(len(self.pending.moves)) if k not in self.checked]
        due = [k for k in due if self._shown(k) >= CHECKED_AFTER]
        if not due:
            return
        made = [one.made for one in self.pending.moves]
        found = effects(self.memory, made[due[0] :], self.kept.folder)
        by_line = {one.line: effect for effect in found for one in effect.moves}
        for k in due:
            effect, move = by_line.get(made[k].line), made[k]
            told = effect is not None and effect.answer != "cannot be told"
            if told or self._shown(k) >= GIVEN_UP_AFTER:
                self.checked.add(k)
                answer = effect.answer if effect else "cannot be told"
                why = effect.why if effect else "the frames do not tell where it was made"
                words = f"Station {move.station} {move.ink}: {answer}. {why}"
                self.say("move checked", words, entry.info.name, move.station)

    def _shown(self, k: int) -> int:
        """Frames that show a move's new setting."""
        return sum(self.pending.moves[k].shows_in(entry) for entry in self.memory.entries)


def _move(made: Made) -> str:
    return move_words(made.axis, made.move_mm)


def _change(before: Condition | None, now: Condition) -> EventKind | None:
    """What an event a station's change is; None for one that is not told."""
    if before == now:
        return None
    if now == "out of tolerance":
        return "left tolerance"
    if now == "not found":
        return "lost"
    if now == "in register" and before == "out of tolerance":
        return "back in tolerance"
    if now in ("in register", "out of tolerance") and before == "not found":
        return "found again"
    return None


def _now_words(now: Condition) -> str:
    return {"out of tolerance": "out of tolerance, ", "not found": ""}.get(now, "")
