"""Work on pixels, in a process of its own: measuring frames, and drawing the newest one."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from regscan.camera.camera import Camera
from regscan.errors import BadFrames
from regscan.job.job import Job
from regscan.journal.record import Recorder, encoded, stamp_of
from regscan.measuring import FrameMeasurer, MeasuredFrame, block_in_turns
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.rows import Row, table_of
from regscan.recording.sources import FrameSource, read_frame

PRELOAD = ("regscan.watch.bench", "regscan.recording.picture", "cv2")
QUALITY = 85  # of the JPEG; it is to be looked at, not to be measured


@dataclass(frozen=True, slots=True)
class Draw:
    """A frame to be marked up, with its rows of both tables, as `job` counts offsets."""

    source: FrameSource
    offsets: tuple[Row, ...]
    marks: tuple[Row, ...]
    job: Job


class Bench:
    """Does one thing after another; keeps the mark finders of its job."""

    def __init__(self, job: Job, cameras: Mapping[str, Camera]) -> None:
        self._cameras = dict(cameras)
        measurer = partial(FrameMeasurer, job, cameras, block_in_turns(len(cameras)))
        self._record = Recorder(measurer)

    def __call__(self, task: FrameSource | Draw) -> bytes:
        """A frame's record, or a marked-up frame as JPEG; b"" for one that is gone."""
        if isinstance(task, Draw):
            return self._drawn(task)
        try:
            return self._record(task)
        except Exception as fault:  # one frame must not end a watch of hours
            why = f"could not be measured ({fault!r:.200})"
            cure = "please report it, with the frame"
            return encoded(MeasuredFrame(task.info, why=why, cure=cure), stamp_of(task.path))

    def _drawn(self, task: Draw) -> bytes:
        import cv2

        from regscan.report.overlay import draw_overlay

        try:
            frame = read_frame(task.source)
        except BadFrames:
            return b""
        tables = table_of(task.marks, MARK_COLUMNS), table_of(task.offsets, OFFSET_COLUMNS)
        picture = draw_overlay(frame, *tables, task.job, self._cameras[task.source.info.camera])
        bgr = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
        done, data = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
        return data.tobytes() if done else b""
