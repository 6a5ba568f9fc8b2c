"""Which frames of a run are worth a marked-up picture, and writing them."""

import re
from pathlib import Path

import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import BadFrames
from regscan.job.job import AXES, Job
from regscan.recording.sources import FrameSource, Recording, read_frame
from regscan.report.overlay import draw_overlay
from regscan.run import Run

MOST = 6
QUALITY = 92  # of the JPEG; the pictures are to be looked at, not to be measured


def write_overlays(folder: Path, recording: Recording) -> list[Path]:
    """Draw the first frame, the worst and a few more into folder/overlays; returns their paths.

    Reads run.json, offsets.csv and marks.csv of the run's folder; a frame that
    can no longer be read is passed over. Raises BadTable and BadOutput.
    """
    from regscan.offsets.table import read_marks, read_offsets
    from regscan.run import load_run

    run = load_run(folder / "run.json")
    offsets, marks = read_offsets(folder / "offsets.csv"), read_marks(folder / "marks.csv")
    sources = {(s.info.name, s.info.camera): s for s in recording.sources}
    written = []
    for why, frame, camera in worth_a_look(offsets, run.job):
        source = sources.get((frame, camera))
        if source is not None and (path := _write(folder, why, source, run, offsets, marks)):
            written.append(path)
    return written


def worth_a_look(offsets: np.ndarray, job: Job) -> list[tuple[str, str, str]]:
    """(why, frame, camera) of the frames to draw, at most MOST, none twice.

    The first frame, the one furthest outside (or nearest to its limit), each
    colour's own worst, and the one with the most marks doubtful or missing.
    """
    worst = _share_of_tolerance(offsets, job)
    found = {_key(offsets[0]): "first"} if len(offsets) else {}
    if np.isfinite(worst).any():
        found.setdefault(_key(offsets[int(np.nanargmax(worst))]), "worst")
    weak = _weakest(offsets)
    if weak is not None:
        found.setdefault(weak, "most-doubtful-or-missing")
    by_ink = {str(ink): worst[offsets["ink"] == ink] for ink in np.unique(offsets["ink"])}
    known = {ink: share for ink, share in by_ink.items() if np.isfinite(share).any()}
    for ink in sorted(known, key=lambda ink: -float(np.nanmax(known[ink]))):
        row = offsets[offsets["ink"] == ink][int(np.nanargmax(known[ink]))]
        if ink != job.reference:
            found.setdefault(_key(row), f"worst-of-{ink}")
    return [(why, *frame) for frame, why in list(found.items())[:MOST]]


def _key(row: np.ndarray) -> tuple[str, str]:
    return str(row["frame"]), str(row["camera"])


def _share_of_tolerance(offsets: np.ndarray, job: Job) -> np.ndarray:
    """Larger of both axes' |offset| over its tolerance, good rows only; NaN for the others."""
    share = np.zeros(len(offsets))
    for axis in AXES:
        limits = {str(i): job.tolerance_for(str(i)).of(axis) for i in np.unique(offsets["ink"])}
        limit = np.array([limits[str(ink)] for ink in offsets["ink"]])
        share = np.maximum(share, np.abs(offsets[f"{axis}_mm"]) / limit)
    return np.where(offsets["status"] == "ok", share, np.nan)


def _weakest(offsets: np.ndarray) -> tuple[str, str] | None:
    weak = offsets[offsets["status"] != "ok"]
    if not len(weak):
        return None
    keys, counts = np.unique(weak[["frame", "camera"]], return_counts=True)
    return _key(keys[int(np.argmax(counts))])


def _write(
    folder: Path, why: str, source: FrameSource, run: Run, offsets: np.ndarray, marks: np.ndarray
) -> Path | None:
    import cv2

    from regscan.wholefile import write_whole

    try:
        frame = read_frame(source)
    except BadFrames:
        return None
    name, camera = source.info.name, source.info.camera
    mine = [t[(t["frame"] == name) & (t["camera"] == camera)] for t in (marks, offsets)]
    picture = draw_overlay(frame, mine[0], mine[1], run.job, _camera(run, camera))
    _, data = cv2.imencode(".jpg", picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    path = folder / "overlays" / f"{_file_name(f'{why}-{camera}-{name}')}.jpg"
    write_whole(path, data.tobytes())
    return path


def _camera(run: Run, name: str) -> Camera:
    by_name = {camera.name: camera for camera in run.cameras}
    return by_name.get(name) or run.cameras[0]


def _file_name(text: str) -> str:
    """A name any file system takes, from user-given frame, camera and ink names."""
    return re.sub(r"[^A-Za-z0-9]+", "-", text.rsplit(".", 1)[0]).strip("-")[:80] or "frame"
