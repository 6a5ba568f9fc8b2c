"""How every station behaved along a run, and why: the run model and the causes, from a table."""

import numpy as np

from regscan.drift.behaviour import Behaviours
from regscan.drift.cause import Cause
from regscan.drift.causes.name import name_causes
from regscan.drift.frames import list_frames
from regscan.drift.model.describe import describe_behaviour
from regscan.drift.record import speed_record
from regscan.job.job import Job
from regscan.recording.speedlog import SpeedLog


def explain_run(
    table: np.ndarray, job: Job, speed_log: SpeedLog | None = None
) -> tuple[Behaviours, tuple[Cause, ...]]:
    """Terms, findings and likely causes of a table of offsets in the contract's columns.

    What the table lacks reduces the answer, said in `Behaviours.reduced`; nothing is raised
    for a poor table.
    """
    frames = list_frames(table, speed_log)
    record = speed_record(frames, speed_log) if len(frames) else None
    behaviours = describe_behaviour(table, frames, record, job)
    return behaviours, name_causes(behaviours, job)
