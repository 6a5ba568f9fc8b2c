"""Run: everything measured and decided, and the one file that keeps it (run.json)."""

from dataclasses import dataclass
from typing import Literal

from regscan.camera.camera import Camera
from regscan.drift.drift import Drift
from regscan.job.job import Job
from regscan.verdict.verdict import Correction, Verdict

FORMAT = 1  # 1: first.


@dataclass(frozen=True, slots=True)
class SkippedFrame:
    """A frame that could not be used at all, and why."""

    frame: str
    why: str


@dataclass(frozen=True, slots=True)
class Inputs:
    """Where everything came from, for the report's last page.

    clock   how frames got their time and web position, in words.
    notes   what was odd about the inputs (gaps, missing columns), in words.
    """

    frames_folder: str
    frames_found: int
    frames_used: int
    skipped: tuple[SkippedFrame, ...]
    clock: str
    notes: tuple[str, ...]
    regscan_version: str
    made_at: str


@dataclass(frozen=True)
class Run:
    """One measured run. The table of offsets lies beside it in offsets.csv."""

    kind: Literal["measure", "ramp"]
    job: Job
    cameras: tuple[Camera, ...]
    inputs: Inputs
    drift: Drift
    corrections: tuple[Correction, ...]
    verdict: Verdict
    format: int = FORMAT
