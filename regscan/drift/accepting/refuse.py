"""Why two runs cannot be compared at all."""

from collections.abc import Iterator

from regscan.drift.accepting.compare import Ran
from regscan.errors import Problem
from regscan.job.job import Job


def why_not(job: Job, before: Ran) -> list[Problem]:
    """Everything that stands against comparing a run of this job with `before`.

    Empty where they may be compared, in whole or in part.
    """
    return list(_problems(job, before))


def _problems(job: Job, before: Ran) -> Iterator[Problem]:
    other = before.job
    if job.reference != other.reference:
        what = f"is measured against {other.reference}, this run against {job.reference}"
        yield Problem("job.reference", what, "compare runs that share their reference colour")
    if not _stations(job):
        what = f"have no colour but the reference {job.reference}"
        yield Problem("job.press.stations", what, "compare runs of jobs with more colours")
    elif not _stations(job) & _stations(other):
        what = f"are {_row(other)}; in this run {_row(job)}"
        cure = "compare runs of one job, or of jobs with the same inks in the same stations"
        yield Problem("job.press.stations", what, cure)
    if job.zero != other.zero:
        what = f"has offsets from {other.zero_words}, this run from {job.zero_words}"
        yield Problem("job.zero", what, "judge both with one job file (ramp --offsets)")
    if not any(track.frames_ok for track in before.drift.tracks):
        what = "show no colour well in any frame"
        yield Problem("drift.tracks", what, "compare with a run that shows its marks")


def _stations(job: Job) -> set[tuple[int, str]]:
    return {
        (station.number, station.ink)
        for station in job.press.stations
        if job.ink(station.ink).measurable and station.ink != job.reference
    }


def _row(job: Job) -> str:
    return ", ".join(f"{station.number} {station.ink}" for station in job.press.stations)
