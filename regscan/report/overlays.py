"""Marked-up frames and contact sheets of a run: which frames they show, and writing them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import BadFrames
from regscan.job.job import Job
from regscan.recording.sources import FrameSource, Recording, read_frame
from regscan.report.overlay import Shown, draw_overlay
from regscan.report.ranking import Key, key_of, share_of_tolerance, spread_out, worst_first
from regscan.report.sheet import COLUMNS, ROWS, draw_sheet
from regscan.report.words import count
from regscan.run import Run

FOLDER = "overlays"
MOST = 6  # single frames
SHEETS = 2
QUALITY = 90  # of the JPEG; the pictures are to be looked at, not to be measured


@dataclass(frozen=True)
class _Album:
    """A run's folder with what is in it, and the frames it was measured from."""

    folder: Path
    run: Run
    offsets: np.ndarray
    marks: np.ndarray
    sources: dict[Key, FrameSource]

    def shown(self, key: Key) -> Shown | None:
        """A frame with its rows; None for one that is gone or cannot be read any more."""
        source = self.sources.get(key)
        if source is None:
            return None
        try:
            frame = read_frame(source)
        except BadFrames:
            return None
        name, camera = key
        marks, offsets = (
            t[(t["frame"] == name) & (t["camera"] == camera)] for t in (self.marks, self.offsets)
        )
        return Shown(frame, marks, offsets, self.run.job, _camera(self.run, camera))


def write_overlays(
    folder: Path, recording: Recording, tables: tuple[np.ndarray, np.ndarray] | None = None
) -> list[Path]:
    """Draw contact sheets and a few single frames into folder/overlays; returns their paths.

    tables   of offsets and of marks as they come back from their files, where somebody has them.

    Reads run.json, offsets.csv and marks.csv of the run's folder; a frame that
    can no longer be read is passed over. Raises BadTable and BadOutput.
    """
    from regscan.offsets.table import read_marks, read_offsets
    from regscan.run import load_run

    offsets, marks = tables or (
        read_offsets(folder / "offsets.csv"),
        read_marks(folder / "marks.csv"),
    )
    album = _Album(
        folder,
        load_run(folder / "run.json"),
        offsets,
        marks,
        {(s.info.name, s.info.camera): s for s in recording.sources},
    )
    return [*_sheets(album), *_singles(album)]


def worth_a_look(offsets: np.ndarray, job: Job) -> list[tuple[str, str, str]]:
    """(why, frame, camera) of the frames to draw, at most MOST, none twice.

    The first frame, the one furthest outside (or nearest to its limit), each
    colour's own worst, and the one with the most marks doubtful or missing.
    """
    worst = share_of_tolerance(offsets, job)
    found = {key_of(offsets[0]): "first"} if len(offsets) else {}
    if np.isfinite(worst).any():
        found.setdefault(key_of(offsets[int(np.nanargmax(worst))]), "worst")
    weak = _weakest(offsets)
    if weak is not None:
        found.setdefault(weak, "most-doubtful-or-missing")
    by_ink = {str(ink): worst[offsets["ink"] == ink] for ink in np.unique(offsets["ink"])}
    known = {ink: share for ink, share in by_ink.items() if np.isfinite(share).any()}
    for ink in sorted(known, key=lambda ink: -float(np.nanmax(known[ink]))):
        row = offsets[offsets["ink"] == ink][int(np.nanargmax(known[ink]))]
        if ink != job.reference:
            found.setdefault(key_of(row), f"worst-of-{ink}")
    return [(why, *frame) for frame, why in list(found.items())[:MOST]]


def _weakest(offsets: np.ndarray) -> Key | None:
    weak = offsets[offsets["status"] != "ok"]
    if not len(weak):
        return None
    keys, counts = np.unique(weak[["frame", "camera"]], return_counts=True)
    return key_of(keys[int(np.argmax(counts))])


def _sheets(album: _Album) -> Iterator[Path]:
    """Up to SHEETS contact sheets; none for a single frame, which has its own picture."""
    order = worst_first(album.offsets, album.run.job)
    if len(order) < 2:
        return
    on_one = COLUMNS * ROWS
    chosen = spread_out(order, album.offsets, SHEETS * on_one)
    for number, start in enumerate(range(0, len(chosen), on_one), start=1):
        keys = chosen[start : start + on_one]
        cells = [shown for key in keys if (shown := album.shown(key)) is not None]
        if cells:
            title = _title(album, start + 1, start + len(keys), len(chosen) < len(order))
            picture = draw_sheet(cells, start + 1, title)
            yield _save(album.folder / FOLDER / file_name(f"sheet-{number}"), picture)


def _title(album: _Album, first: int, last: int, thinned: bool) -> list[str]:
    job, frames = album.run.job, len(np.unique(album.offsets[["frame", "camera"]]))
    near = " Of neighbouring frames only the worst is shown." if thinned else ""
    return [
        f"{job.name} on {job.press.name}, against {job.reference}",
        f"Worst frames first: {first} to {last}, from {count(frames, 'frame')}.{near}",
    ]


def _singles(album: _Album) -> Iterator[Path]:
    for why, name, camera in worth_a_look(album.offsets, album.run.job):
        shown = album.shown((name, camera))
        if shown is not None:
            picture = draw_overlay(shown.frame, shown.marks, shown.offsets, shown.job, shown.camera)
            yield _save(album.folder / FOLDER / file_name(why, camera, name), picture)


def _save(path: Path, picture: np.ndarray) -> Path:
    import cv2

    from regscan.wholefile import write_whole

    _, data = cv2.imencode(".jpg", picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    write_whole(path, data.tobytes())
    return path


def _camera(run: Run, name: str) -> Camera:
    by_name = {camera.name: camera for camera in run.cameras}
    return by_name.get(name) or run.cameras[0]


def file_name(why: str, camera: str = "", frame: str = "") -> str:
    """A name any file system takes, from user-given frame, camera and ink names."""
    text = f"{why}-{camera}-{frame.rsplit('.', 1)[0]}"
    return f"{re.sub(r'[^A-Za-z0-9]+', '-', text).strip('-')[:80] or 'frame'}.jpg"
