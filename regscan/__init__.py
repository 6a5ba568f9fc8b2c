"""regscan: from press-camera frames to register offsets, causes, moves and a verdict.

The public names below load when they are first used, so `import regscan` is
cheap. tests/test_public.py pins them.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from regscan.camera.camera import Camera as Camera
    from regscan.camera.read import read_camera as read_camera
    from regscan.drift.describe import describe_run as describe_run
    from regscan.drift.why import explain_run as explain_run
    from regscan.errors import BadInput as BadInput
    from regscan.errors import RegscanError as RegscanError
    from regscan.job.job import Job as Job
    from regscan.job.read import read_job as read_job
    from regscan.marks.finder import MarkFinder as MarkFinder
    from regscan.marks.mark import Mark as Mark
    from regscan.offsets.measure import measure_offsets as measure_offsets
    from regscan.offsets.offset import Offset as Offset
    from regscan.offsets.table import read_offsets as read_offsets
    from regscan.pipeline import Task as Task
    from regscan.pipeline import decide as decide
    from regscan.pipeline import inputs_of as inputs_of
    from regscan.pipeline import measure_frames as measure_frames
    from regscan.pipeline import save_results as save_results
    from regscan.recording.frame import Frame as Frame
    from regscan.recording.sources import open_recording as open_recording
    from regscan.recording.sources import read_frame as read_frame
    from regscan.recording.speedlog import read_speed_log as read_speed_log
    from regscan.report.page import write_report as write_report
    from regscan.run import Run as Run
    from regscan.run import load_run as load_run
    from regscan.verdict.correct import propose_moves as propose_moves
    from regscan.verdict.gate import judge_run as judge_run

__version__ = "0.1.0"

# Where each public name lives.
PUBLIC = {
    "BadInput": "errors",
    "Camera": "camera.camera",
    "Frame": "recording.frame",
    "Job": "job.job",
    "Mark": "marks.mark",
    "MarkFinder": "marks.finder",
    "Offset": "offsets.offset",
    "RegscanError": "errors",
    "Run": "run",
    "Task": "pipeline",
    "decide": "pipeline",
    "describe_run": "drift.describe",
    "explain_run": "drift.why",
    "inputs_of": "pipeline",
    "judge_run": "verdict.gate",
    "load_run": "run",
    "measure_frames": "pipeline",
    "measure_offsets": "offsets.measure",
    "open_recording": "recording.sources",
    "propose_moves": "verdict.correct",
    "read_camera": "camera.read",
    "read_frame": "recording.sources",
    "read_job": "job.read",
    "read_offsets": "offsets.table",
    "read_speed_log": "recording.speedlog",
    "save_results": "pipeline",
    "write_report": "report.page",
}


def __getattr__(name: str) -> Any:
    if name not in PUBLIC:
        raise AttributeError(f"regscan has no {name!r}; public names: {', '.join(PUBLIC)}")
    return getattr(import_module(f"regscan.{PUBLIC[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *PUBLIC])
