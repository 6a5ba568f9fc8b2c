"""Whatever a table holds, the answer is reduced, never a crash and never a made-up number."""

import math
from dataclasses import fields, is_dataclass

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drift.presses import JOB, TWO_CAMERAS
from regscan.drift.describe import describe_run
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from regscan.recording.speedlog import SpeedLog
from regscan.verdict.correct import propose_moves
from regscan.verdict.gate import judge_run

measures = st.one_of(st.none(), st.floats(0, 50), st.integers(0, 6).map(float))
offsets = st.one_of(st.none(), st.floats(-0.3, 0.3), st.sampled_from([0.1, -0.1, 0.0]))


@st.composite
def rows(draw):
    late, side = draw(offsets), draw(offsets)
    seen = late is not None or side is not None
    return {
        "frame": draw(st.sampled_from([f"{k}.png" for k in range(30)])),
        "time_s": draw(measures),
        "web_m": draw(measures),
        "speed_m_min": draw(st.one_of(st.none(), st.floats(0, 200), st.just(100.0))),
        "camera": draw(st.sampled_from(["", "middle", "end", "nowhere"])),
        "edge": draw(st.sampled_from(["", "operator", "drive"])),
        "station": draw(st.integers(0, 9)),
        "ink": draw(st.sampled_from(["white", "cyan", "black", "puce"])),
        "status": draw(st.sampled_from(["ok", "doubtful"])) if seen else "missing",
        "circumferential_mm": late,
        "lateral_mm": side,
        "circumferential_sd_mm": draw(st.one_of(st.none(), st.floats(0, 0.1))),
    }


logs = st.one_of(
    st.none(),
    st.lists(st.tuples(st.floats(0.01, 10), st.floats(0, 200)), min_size=2, max_size=30).map(
        lambda steps: SpeedLog.of(np.cumsum([s for s, _ in steps]), [v for _, v in steps])
    ),
)


def numbers_in(record):
    if is_dataclass(record):
        for field in fields(record):
            yield from numbers_in(getattr(record, field.name))
    elif isinstance(record, tuple):
        for part in record:
            yield from numbers_in(part)
    elif isinstance(record, float):
        yield record


def key(row):
    return row["frame"], row["camera"], row["edge"], row["ink"]


@settings(max_examples=120, deadline=None)
@given(st.lists(rows(), max_size=60, unique_by=key), logs, st.sampled_from([JOB, TWO_CAMERAS]))
def test_any_table_gives_an_answer_without_a_number_that_is_none(made, log, job):
    drift = describe_run(table_of(made, OFFSET_COLUMNS), job, log)
    verdict, moves = judge_run(drift, job), propose_moves(drift, job)
    for record in (drift, verdict, moves):
        assert all(math.isfinite(number) for number in numbers_in(record))
    assert len(moves) == 2 * len(job.press.stations)
    for track in drift.tracks:
        assert track.frames_ok + track.frames_doubtful + track.frames_missing >= 1
        for stretch in track.stretches:
            assert stretch.metres is None or stretch.metres >= 0.0
        for level in track.levels:
            assert level.sd_mm is None or level.sd_mm >= 0.0
    covered = [k for s in drift.segments for k in range(s.first_frame, s.last_frame + 1)]
    assert covered == list(range(len({(r["frame"], r["camera"]) for r in made})))
