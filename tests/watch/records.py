"""Measured frames made up by hand, for tests that need no picture."""

import json
import math

import numpy as np

from regscan.journal.record import FrameRecord, decoded
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.simulator.example import given
from regscan.watch.kept import EventLog, open_job
from regscan.watch.session import Given, Session

JOB = given().job
GIVEN = Given(JOB, {"": given().camera, "end": given().camera})
STEP_M = 1.0


def encoded_frame(number, places=None, lost=(), doubtful=(), web=True, name=None, why=""):
    """A frame's record as it is kept. places: (circumferential, lateral) mm by ink, or what
    gives them for a number."""
    places = places(number) if callable(places) else places
    rows = []
    wiggle = float(np.random.default_rng(number).normal(0.0, 0.002))
    for station in JOB.press.stations:
        ink = station.ink
        reference = ink == JOB.reference
        status = "missing" if ink in lost else "doubtful" if ink in doubtful else "ok"
        along, across = (places or {}).get(ink, (0.0, 0.0))
        values = [along + wiggle, across - wiggle] if not reference else [0.0, 0.0]
        sds = [0.0, 0.0] if reference else [0.002, 0.002]
        if status == "missing":
            values, sds = [math.nan] * 2, [math.nan] * 2
        note = {"missing": "no such mark found", "doubtful": "smeared"}.get(status, "")
        at = number * STEP_M if web else math.nan
        speed = 60.0 if web else math.nan
        rows.append(
            [name or f"{number:04d}.png", float(number), at, speed, "", "", station.number, ink,
             status, *values, *sds, note]
        )  # fmt: skip
    assert len(rows[0]) == len(OFFSET_COLUMNS)
    record = {
        "frame": name or f"{number:04d}.png",
        "stamp": [100, number],
        "size": [360, 480],
        "why": why,
        "cure": "copy it again" if why else "",
        "offsets": [] if why else rows,
        "marks": [],
    }
    assert MARK_COLUMNS
    return json.dumps(record).encode()


def frame(number, *args, **more) -> FrameRecord:
    return decoded(encoded_frame(number, *args, **more))


def session_in(out, anew=False) -> Session:
    """A session that keeps what it is fed."""
    session = Session(GIVEN, open_job(out, GIVEN.origin, anew), EventLog(out))
    session.go_on()
    return session


def feed(session, first, last, *args, **more):
    for number in range(first, last + 1):
        record = encoded_frame(number, *args, **more)
        session.kept.append(record)
        session.add(decoded(record))
    session.advise()


def state(session, ink):
    return next(one for one in session.stations if one.ink == ink)


def told(session, kind):
    return [event.words for event in session.log.newest if event.kind == kind]
