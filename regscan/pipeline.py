"""The only file that knows the order of work: frames -> marks -> offsets -> run.

It does no arithmetic on images or offsets; each step lies in its own room.
"""

from collections.abc import Callable, Generator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

import regscan
from regscan.camera.camera import Camera
from regscan.gathering import Gathering, Measured
from regscan.job.job import Job
from regscan.journal.journal import Journal
from regscan.journal.record import Recorder, decoded
from regscan.measuring import FrameMeasurer, block_of, check_cameras
from regscan.recording.sources import Recording
from regscan.recording.speedlog import SpeedLog
from regscan.run import Inputs, Run
from regscan.workers import map_in_order

Progress = Callable[[int, int], None]  # (frames done, frames in all)
Over = Callable[[Callable[[], Any], Sequence[Any], int, Sequence[str]], Generator[Any, None, None]]
PRELOAD = ("regscan.measuring", "regscan.recording.picture", "cv2")  # what every worker needs


@dataclass(frozen=True, slots=True)
class Task:
    """What a run is judged by, besides its offsets."""

    kind: Literal["measure", "ramp"]
    job: Job
    cameras: Mapping[str, Camera]
    speed_log: SpeedLog | None = None


def unseen(done: int, total: int) -> None:
    """Progress that nobody looks at."""


def measure_frames(
    recording: Recording,
    job: Job,
    cameras: Mapping[str, Camera],
    progress: Progress = unseen,
    journal: Journal | None = None,
    over: Over = map_in_order,
) -> Measured:
    """Measure every frame, over all processors; frames that cannot be used are set aside.

    cameras   by the name that frames carry; "" where the job has one camera.
    progress  is told (frames done, frames in all) as it goes on.
    journal   keeps each frame's rows as soon as they are measured, and brings those of the
              frames that were measured before the run was interrupted.
    over      what the work is spread over: this machine's processors, or a cluster.

    Raises BadFrames when no frame can be used or none shows any mark.
    """
    check_cameras(recording, job, cameras)
    gathering = Gathering(recording)
    done, frames = journal.finished if journal else 0, len(recording.sources)
    # Within a block a frame is measured in the light of the ones before it, so a block that
    # was begun is measured from its start again, and what is known of it already is dropped.
    block = block_of(recording.sources)
    again = done % block if done < frames else 0
    left = recording.sources[done - again :]
    prepare = partial(Recorder, partial(FrameMeasurer, job, cameras, block))
    with closing(over(prepare, left, block, PRELOAD)) as records:
        for record in islice(records, again, None):
            if journal:
                journal.append(record)
            else:
                gathering.add(decoded(record))
            done += 1
            progress(done, frames)
    for record in journal.kept() if journal else ():
        gathering.add(decoded(record))
    return gathering.finish()


def inputs_of(
    recording: Recording, measured: Measured, cameras: Mapping[str, Camera] = MappingProxyType({})
) -> Inputs:
    """Where measured frames came from, for the record."""
    found = len(recording.sources)
    return Inputs(
        frames_folder=recording.folder,
        frames_found=found,
        frames_used=found - len(measured.skipped),
        skipped=measured.skipped,
        clock=recording.clock,
        notes=(*recording.notes, *camera_notes(cameras)),
        regscan_version=regscan.__version__,
        made_at=_now(),
    )


def camera_notes(cameras: Mapping[str, Camera]) -> tuple[str, ...]:
    """What nobody has proven of the cameras yet."""
    unproven = [c for c in dict.fromkeys(cameras.values()) if c.direction is None]
    if not unproven:
        return ()
    names = [camera.name for camera in unproven if camera.name]
    which = f"of camera {', '.join(names)} " if names else "of the camera "
    return (f"the direction {which}was never checked with a known step (regscan calibrate)",)


def inputs_of_table(path: Path, offsets: np.ndarray) -> Inputs:
    """Where a table measured earlier or elsewhere came from, for the record."""
    frames = len(np.unique(offsets["frame"]))
    return Inputs(
        frames_folder=str(path),
        frames_found=frames,
        frames_used=frames,
        skipped=(),
        clock="as written in the table",
        notes=("judged from a table of offsets; no picture was read",),
        regscan_version=regscan.__version__,
        made_at=_now(),
    )


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


def decide(task: Task, offsets: np.ndarray, inputs: Inputs) -> Run:
    """From the table of offsets to levels, moves and the verdict; needs no image."""
    from regscan.drift.accepting.ask import ask_protocol
    from regscan.drift.costing.find import find_cost
    from regscan.drift.describe import describe_run
    from regscan.drift.frames import list_frames
    from regscan.drift.monitor.replay import replay
    from regscan.drift.why import explain_run
    from regscan.offsets.calibration import calibration_sds
    from regscan.verdict.correct import propose_moves
    from regscan.verdict.gate import judge_run
    from regscan.verdict.settling import settle

    calibration = calibration_sds(task.job, task.cameras)
    drift = describe_run(offsets, task.job, task.speed_log, calibration)
    settled = settle(offsets, drift, task.job)
    corrections = propose_moves(settled.drift, task.job, settled.waiting)
    if task.kind == "ramp":
        behaviours, causes = explain_run(offsets, task.job, task.speed_log)
        drift = replace(drift, behaviours=behaviours, causes=causes)
        moves = {(one.ink, one.axis): one.move_mm for one in corrections}
        drift = replace(
            drift,
            cost=find_cost(offsets, task.job, drift, moves, task.speed_log),
            alerts=replay(offsets, list_frames(offsets, task.speed_log), task.job),
            acceptance=ask_protocol(drift, task.job.acceptance),
        )
    return Run(
        kind=task.kind,
        job=task.job,
        cameras=tuple(dict.fromkeys(task.cameras.values())),
        inputs=inputs,
        drift=drift,
        corrections=corrections,
        verdict=judge_run(drift, task.job),
    )


def save_results(folder: Path, run: Run, offsets: np.ndarray, marks: np.ndarray | None) -> None:
    """Write the run's tables and run.json into the folder (see the contract of names)."""
    from regscan.drift.costing.table import write_cuts
    from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
    from regscan.offsets.table import write_table
    from regscan.run import save_run
    from regscan.verdict.correct import write_corrections

    write_table(folder / "offsets.csv", offsets, OFFSET_COLUMNS)
    if marks is not None:
        write_table(folder / "marks.csv", marks, MARK_COLUMNS)
    write_corrections(folder / "corrections.csv", run.corrections)
    if run.drift.cost is not None:
        write_cuts(folder / "cuts.csv", run.drift.cost)
    save_run(run, folder / "run.json")
