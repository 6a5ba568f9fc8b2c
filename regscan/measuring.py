"""One frame measured, many gathered: what can be used goes into the tables, the rest is named."""

import multiprocessing
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import BadFrames, Problem
from regscan.job.job import Job
from regscan.marks.finder import MarkFinder
from regscan.marks.mark import Mark
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import Offset
from regscan.offsets.table import mark_table, offset_table
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.sources import FrameSource, Recording, read_frame
from regscan.run import SkippedFrame

SHOWN = 12  # problems listed in one message; the rest are counted


@dataclass(frozen=True, slots=True)
class MeasuredFrame:
    """What one frame gave.

    why, cure   why it gave nothing and what to do about it; "" for a used frame.
    """

    info: FrameInfo
    size: tuple[int, ...] = ()
    marks: tuple[Mark, ...] = ()
    offsets: tuple[Offset, ...] = ()
    why: str = ""
    cure: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """All frames of a recording: the two tables, and the frames that gave nothing."""

    offsets: np.ndarray
    marks: np.ndarray
    skipped: tuple[SkippedFrame, ...]


class FrameMeasurer:
    """Measures frame after frame; keeps one mark finder per camera and web edge."""

    def __init__(self, job: Job, cameras: Mapping[str, Camera]) -> None:
        if multiprocessing.parent_process():
            import cv2

            cv2.setNumThreads(1)  # the processes share out the frames; threads would only fight
        self.job, self.cameras = job, cameras
        self.finders: dict[tuple[str, str], MarkFinder] = {}

    def __call__(self, source: FrameSource) -> MeasuredFrame:
        """Read one frame and measure it; an unreadable frame says why in its result."""
        info = source.info
        try:
            frame = read_frame(source)
        except BadFrames as bad:
            problem = bad.problems[0]
            return MeasuredFrame(info, why=problem.what, cure=problem.cure)
        camera = self.cameras[info.camera]
        if odd := _not_as_calibrated(frame, camera):
            return MeasuredFrame(info, why=odd, cure="calibrate the camera at this frame size")
        marks = self.finder(info, camera).measure(frame)
        offsets = measure_offsets(marks, self.job, camera)
        return MeasuredFrame(info, frame.pixels.shape[:2], tuple(marks), tuple(offsets))

    def finder(self, info: FrameInfo, camera: Camera) -> MarkFinder:
        """The finder for a frame of that camera and web edge."""
        key = info.camera, info.edge
        if key not in self.finders:
            self.finders[key] = MarkFinder(
                self.job, camera, camera_name=info.camera, edge=info.edge
            )
        return self.finders[key]


def _not_as_calibrated(frame: Frame, camera: Camera) -> str:
    """Why a lens found with frames of another size cannot serve; "" when it can."""
    rows, cols = frame.pixels.shape[:2]
    if camera.lens is None or (rows, cols) == (camera.lens.rows_px, camera.lens.cols_px):
        return ""
    was = f"{camera.lens.cols_px} x {camera.lens.rows_px}"
    return f"is {cols} x {rows} pixels, and the camera was calibrated with {was}"


def check_cameras(recording: Recording, job: Job, cameras: Mapping[str, Camera]) -> None:
    """Refuse frames whose camera is not one of the press's, before any is measured."""
    named = sorted({source.info.camera for source in recording.sources} - set(cameras))
    if not named:
        return
    known = ", ".join(post.name for post in job.press.cameras) or "none; one unnamed camera"
    problems = [
        Problem("camera", f"{name!r} is not a camera of the job", f"known: {known}")
        if name
        else Problem(
            "camera",
            f"the job has several cameras ({known}) and these frames do not say which took them",
            "name one for every frame in the camera column of frames.csv",
        )
        for name in named
    ]
    raise BadFrames(recording.folder, problems)


def set_odd_sizes_aside(frames: Sequence[MeasuredFrame]) -> list[MeasuredFrame]:
    """Frames of a camera that differ in size from most of it become skipped ones.

    A change of size is a change of camera set-up, so its scale cannot be trusted.
    """
    sizes: dict[str, Counter[tuple[int, ...]]] = {}
    for frame in frames:
        if not frame.why:
            sizes.setdefault(frame.info.camera, Counter())[frame.size] += 1
    usual = {camera: count.most_common(1)[0][0] for camera, count in sizes.items()}

    def judged(frame: MeasuredFrame) -> MeasuredFrame:
        if frame.why or frame.size == usual[frame.info.camera]:
            return frame
        rows, cols = frame.size
        wanted = "{1} x {0}".format(*usual[frame.info.camera])
        why = f"is {cols} x {rows} pixels, the others are {wanted}"
        return MeasuredFrame(frame.info, why=why, cure="measure it by itself")

    return [judged(frame) for frame in frames]


def gather(frames: Sequence[MeasuredFrame], folder: str) -> Measured:
    """The tables of all usable frames. Raises BadFrames when there is nothing in them."""
    used = [frame for frame in frames if not frame.why]
    if not used:
        raise BadFrames(folder, _set_aside(frames))
    if all(mark.status == "missing" for frame in used for mark in frame.marks):
        raise BadFrames(folder, [_no_marks(len(used)), *_set_aside(frames)])
    return Measured(
        offset_table((frame.info, one) for frame in used for one in frame.offsets),
        mark_table((frame.info, one) for frame in used for one in frame.marks),
        tuple(SkippedFrame(frame.info.name, frame.why) for frame in frames if frame.why),
    )


def _no_marks(frames: int) -> Problem:
    return Problem(
        "marks",
        f"no mark of any colour was found in {frames} usable frame{'' if frames == 1 else 's'}",
        "check that the job's inks, mark shapes and places are those of these frames, and"
        " mm_per_px, web_travel and drive_side in the camera file",
    )


def _set_aside(frames: Sequence[MeasuredFrame]) -> list[Problem]:
    bad = [frame for frame in frames if frame.why]
    problems = [Problem(frame.info.name, frame.why, frame.cure) for frame in bad[:SHOWN]]
    if len(bad) > SHOWN:
        problems.append(Problem("", f"and {len(bad) - SHOWN} more frames", "as above"))
    return problems
