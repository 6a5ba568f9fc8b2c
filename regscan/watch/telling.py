"""From a session to what is shown of it: the press as a whole, in one word and one sentence."""

from dataclasses import dataclass

from regscan.watch.looking import WORST_FIRST
from regscan.watch.session import Session
from regscan.watch.watched import (
    Condition,
    Counts,
    Newest,
    StationState,
    Wait,
    Watched,
)

STALE_S = 30.0  # without a new frame, after which what is shown is no longer now
HEADLINES: dict[Condition, str] = {
    "in register": "In register",
    "out of tolerance": "Out of tolerance",
    "cannot be decided": "Cannot tell yet",
    "not found": "Colour not found",
    "doubtful": "Doubtful",
    "wait": "Wait",
    "no frames": "No frames yet",
    "no new frames": "No new frames",
}


@dataclass(frozen=True, slots=True)
class Around:
    """What the desk knows besides its session. age_s: since the newest frame was measured in
    this run of the program; picture: its number and frame; fault: why measuring stands still."""

    version: int
    queued: int
    age_s: float | None
    picture: tuple[int, str]
    job_files: tuple[str, ...]
    fault: str = ""


def tell(session: Session, around: Around) -> Watched:
    """Everything at this moment."""
    job, memory = session.job, session.memory
    waits = session.waits()
    condition = _condition(session, around)
    newest = memory.newest
    info = newest.info if newest else None
    return Watched(
        version=around.version,
        job=job.name,
        job_file=session.given.job.path.replace("\\", "/").rsplit("/", 1)[-1],
        press=job.press.name,
        reference=job.reference,
        zero=session.zero_words(),
        condition=condition,
        headline=HEADLINES[condition],
        sentence=_sentence(condition, session, waits, around),
        stations=session.with_trends(),
        moves=session.now.moves,
        waits=waits,
        remarks=(*([around.fault] if around.fault else []), *session.now.remarks),
        actuators=session.actuators(),
        job_files=around.job_files,
        counts=Counts(memory.measured, session.unusable, around.queued),
        newest=Newest(info.name, info.web_m, info.speed_m_min, around.age_s) if info else Newest(),
        along="m" if memory.along_web() else "frames",
        picture=around.picture[0] if around.picture[1] else 0,
        picture_frame=around.picture[1],
        events=session.log.number,
    )


def _condition(session: Session, around: Around) -> Condition:
    if session.memory.newest is None:
        return "no frames"
    if around.fault:
        return "no new frames"
    if not around.queued and (around.age_s is None or around.age_s > STALE_S):
        return "no new frames"
    found = [s.condition for s in session.stations if s.condition in WORST_FIRST]
    return min(found, key=WORST_FIRST.index, default="cannot be decided")


def _sentence(
    condition: Condition, session: Session, waits: tuple[Wait, ...], around: Around
) -> str:
    if condition == "no frames":
        return "Waiting for the first frame in the watched folder."
    if condition == "no new frames":
        if around.fault:
            return around.fault
        if around.age_s is None:
            return "What is shown was measured before the watch was started again."
        return f"The newest is {around.age_s:.0f} s old: camera, its folder, or the press stands."
    if condition == "wait" and waits:
        wait = max(waits, key=lambda one: one.left_m or one.total_m)
        return f"Station {wait.station} {wait.ink}: {wait.words} until frames show the move."
    concerned = [s for s in session.stations if s.condition == condition]
    if condition == "in register":
        return _all_in(session, concerned)
    first, more = concerned[0], len(concerned) - 1
    others = f"; {more} more station{'s' if more > 1 else ''}" if more else ""
    return f"Station {first.number} {first.ink}: {first.words}{others}."


def _all_in(session: Session, stations: list[StationState]) -> str:
    warned = [s for s in stations if any(axis.warning for axis in s.axes)]
    if not warned:
        return f"All {len(stations)} colours against {session.job.reference}."
    warning = next(axis for axis in warned[0].axes if axis.warning)
    return f"Station {warned[0].number} {warned[0].ink} {warning.warning}."
