"""One frame measured: its marks and offsets, or why it has none."""

import multiprocessing
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from regscan.camera.camera import Camera
from regscan.errors import BadFrames, Problem
from regscan.job.job import Job
from regscan.marks.finder import MarkFinder
from regscan.marks.mark import Mark
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import Offset
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.sources import FrameSource, Recording, read_frame

FOLLOWED = 32  # frames of one camera in which marks are followed from one to the next
_LONGEST = 256  # frames of a block: what a process had in hand is measured again after a crash


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


class FrameMeasurer:
    """Measures frame after frame; keeps one mark finder per camera and web edge.

    Marks are followed from frame to frame within blocks of `block` frames of the run, and
    looked for anew at the start of each: so a run measured by any number of processes,
    or taken up again at the start of a block, gives the same rows to the last digit.
    """

    def __init__(self, job: Job, cameras: Mapping[str, Camera], block: int = FOLLOWED) -> None:
        if multiprocessing.parent_process():
            import cv2

            cv2.setNumThreads(1)  # the processes share out the frames; threads would only fight
        self.job, self.cameras, self.block = job, cameras, block
        self.finders: dict[tuple[str, str], MarkFinder] = {}
        self.before: dict[tuple[str, str], tuple[FrameInfo, list[Mark]]] = {}

    def __call__(self, source: FrameSource) -> MeasuredFrame:
        """Read one frame and measure it; an unreadable frame says why in its result."""
        info, camera = source.info, self.cameras[source.info.camera]
        finder, before = self.finder(info, camera), self._before(info)
        try:
            # Where the marks will be is known, and with it which rows need to be decoded.
            frame = read_frame(source, finder.rows(before))
            if odd := _not_as_calibrated(frame, camera):
                return MeasuredFrame(info, why=odd, cure="calibrate the camera at this frame size")
            marks = finder.follow(frame, before)
            if marks is None:
                marks = finder.measure(frame if frame.whole else read_frame(source))
        except BadFrames as bad:
            problem = bad.problems[0]
            return MeasuredFrame(info, why=problem.what, cure=problem.cure)
        self.before[info.camera, info.edge] = info, marks
        offsets = measure_offsets(marks, self.job, camera)
        return MeasuredFrame(info, frame.size, tuple(marks), tuple(offsets))

    def _before(self, info: FrameInfo) -> list[Mark]:
        """The marks of that camera's frame before; none where a block begins."""
        last, before = self.before.get((info.camera, info.edge), (info, []))
        one_block = last.index // self.block == info.index // self.block
        return before if one_block and last.index < info.index else []

    def finder(self, info: FrameInfo, camera: Camera) -> MarkFinder:
        """The finder for a frame of that camera and web edge."""
        key = info.camera, info.edge
        if key not in self.finders:
            self.finders[key] = MarkFinder(
                self.job, camera, camera_name=info.camera, edge=info.edge
            )
        return self.finders[key]


def block_of(sources: Sequence[FrameSource]) -> int:
    """Frames in a block of a run of these frames."""
    return block_in_turns(len({(source.info.camera, source.info.edge) for source in sources}))


def block_in_turns(views: int) -> int:
    """Frames in a block where so many cameras and web edges take turns: FOLLOWED of each, fewer
    where they are many."""
    return min(FOLLOWED * max(views, 1), _LONGEST)


def _not_as_calibrated(frame: Frame, camera: Camera) -> str:
    """Why a lens found with frames of another size cannot serve; "" when it can."""
    rows, cols = frame.size
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
