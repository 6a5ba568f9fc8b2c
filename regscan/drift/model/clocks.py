"""When each station printed what a frame shows: web metres, seconds, speed, acceleration.

The marks of one frame are of different age. A frame at web position x shows what a station
printed when x minus the web path from that station to the camera stood at the camera.
"""

from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.frames import Frames
from regscan.drift.model.channels import Scene
from regscan.drift.pieces import Piece, straight_pieces
from regscan.drift.record import Record
from regscan.job.job import Job
from regscan.units import SECONDS_PER_MINUTE

LEAST_CHANGE_M_MIN = 3.0  # a straight piece that changes less than this holds its speed
LEAST_SHARE = 0.05  # ... or less than this share of the top speed


@dataclass(frozen=True)
class Moments:
    """Moments of the run, arrays of one shape (moments x stations). None: not known.

    order         place of the frame in the run, the only measure that is always there.
    web_m         web that had passed (negative before the run).
    gain_m_s2     acceleration, + when the web gains speed.
    direction     -1 while or after the speed fell, +1 rose, 0 before its first change.
    frame_speed_m_min   speed at the moment of the frame, not of printing.
    sheet_m       web that had passed the first station of the press when this piece of web did.
    round_share   place of the frame round the repeat, 0 to 1; the same for all stations.
    """

    order: np.ndarray
    web_m: np.ndarray | None = None
    time_s: np.ndarray | None = None
    speed_m_min: np.ndarray | None = None
    gain_m_s2: np.ndarray | None = None
    direction: np.ndarray | None = None
    frame_speed_m_min: np.ndarray | None = None
    sheet_m: np.ndarray | None = None
    round_share: np.ndarray | None = None

    @property
    def speeds_differ(self) -> bool:
        """Whether there is more than one speed to tell anything by."""
        if self.speed_m_min is None:
            return False
        low, high = np.percentile(self.speed_m_min, [1, 99])
        return bool(high - low > max(LEAST_CHANGE_M_MIN, LEAST_SHARE * high))


class RunClock:
    """What is known of the run at any web position, from the frames and the speed record."""

    def __init__(self, frames: Frames, place: np.ndarray, record: Record | None) -> None:
        self.web = _known(frames.web_m[place])
        self.time = _known(frames.time_s[place])
        self.order = place.astype(float)
        self.record_unit = record.unit if record else ""
        self.at_frames = record.of_frames[place] if record else None
        enough = record is not None and len(record.at) >= 2
        self.line = (
            Line(straight_pieces(record.at, record.speed_m_min)) if record and enough else None
        )

    def printed(self, path_m: np.ndarray, first_m: float, repeat_m: float) -> Moments:
        """moments x stations, each station when it printed what the frame shows.

        path_m, first_m   web path to the camera of the observed stations, of the press's first.
        """
        order = np.repeat(self.order[:, None], len(path_m), axis=1)
        seen = None
        if self.line is not None and self.at_frames is not None:
            seen = np.repeat(self.line.speed(self.at_frames)[:, None], len(path_m), axis=1)
        if self.web is not None:
            sheet = np.repeat((self.web - first_m)[:, None], len(path_m), axis=1)
            return replace(
                self.at(self.web[:, None] - path_m[None, :]),
                order=order,
                frame_speed_m_min=seen,
                sheet_m=sheet,
                round_share=round_share(np.repeat(self.web[:, None], len(path_m), 1), repeat_m),
            )
        # Without web positions every mark counts as printed at the moment of its frame.
        time = None if self.time is None else np.repeat(self.time[:, None], len(path_m), axis=1)
        return Moments(order, None, time, *self._motion(None, time, len(path_m)), seen)

    def at(self, web_m: np.ndarray) -> Moments:
        """Moments at which so many metres had passed; web positions must be known."""
        assert self.web is not None
        order = np.interp(web_m, self.web, self.order)
        time = None if self.time is None else carried(web_m, self.web, self.time)
        return Moments(order, web_m, time, *self._motion(web_m, time, web_m.shape[1]))

    def _motion(
        self, web_m: np.ndarray | None, time_s: np.ndarray | None, columns: int
    ) -> tuple[np.ndarray | None, np.ndarray | None, np.ndarray | None]:
        """(speed, acceleration, direction) from the straight pieces of the record."""
        if self.line is None or self.at_frames is None:
            return None, None, None
        at = {"s": time_s, "m": web_m}.get(self.record_unit)
        if at is None:
            at = np.repeat(self.at_frames[:, None], columns, axis=1)
            return self.line.speed(at), None, self.line.direction(at)
        return self.line.speed(at), self.line.gain(at, self.record_unit), self.line.direction(at)


def path_m(job: Job, station: int, camera: str) -> float:
    """Web path in m from a station to the camera; 0 where the job knows no such camera."""
    try:
        return job.press.path_to_camera_m(station, camera)
    except KeyError:
        return 0.0


def printed_moments(clock: RunClock, scene: Scene, job: Job) -> Moments:
    """The printing moments of a scene's stations."""
    paths = np.array([path_m(job, number, scene.camera) for number in scene.stations])
    first = path_m(job, 1, scene.camera)
    return clock.printed(paths, first, job.press.repeat_mm / 1000.0)


def round_share(web_m: np.ndarray, repeat_m: float) -> np.ndarray:
    """Place round the repeat, 0 to 1; what is a whole repeat but for rounding is 0."""
    share = np.mod(web_m / repeat_m, 1.0)
    return np.where(share > 1.0 - 1e-4, 0.0, share)


def _known(values: np.ndarray) -> np.ndarray | None:
    return values.astype(float) if len(values) and np.isfinite(values).all() else None


def carried(at: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Values known at the frames, at other places; before the first frame its pitch goes on."""
    rising = np.concatenate(([True], np.diff(x) > 0))
    x, y = x[rising], y[rising]
    inside = np.interp(at, x, y)
    if len(x) < 2:
        return inside
    slope = (y[1] - y[0]) / (x[1] - x[0])
    return np.where(at < x[0], y[0] + (at - x[0]) * slope, inside)


class Line:
    """A speed record as straight lines from bend to bend."""

    def __init__(self, pieces: list[Piece]) -> None:
        self.start = np.array([piece.start for piece in pieces])
        self.x = np.array([x for p in pieces for x in (p.start, p.end)])
        self.v = np.array(
            [max(v, 0.0) for p in pieces for v in (p.start_speed_m_min, p.end_speed_m_min)]
        )
        length = np.array([max(p.end - p.start, 1e-9) for p in pieces])
        change = self.v[1::2] - self.v[::2]
        steady = max(LEAST_CHANGE_M_MIN, LEAST_SHARE * float(self.v.max()))
        self.slope = np.where(np.abs(change) > steady, change / length, 0.0)

    def speed(self, at: np.ndarray) -> np.ndarray:
        """Speed in m/min."""
        return np.asarray(np.interp(at, self.x, self.v))

    def gain(self, at: np.ndarray, unit: str) -> np.ndarray:
        """Acceleration in m/s^2; from a slope in metres by a = v dv/dx."""
        slope = self._of_piece(self.slope, at) / SECONDS_PER_MINUTE
        return slope if unit == "s" else slope * self.speed(at) / SECONDS_PER_MINUTE

    def direction(self, at: np.ndarray) -> np.ndarray:
        """Sign of the last change of speed."""
        signs = np.sign(self.slope)
        for k in range(1, len(signs)):
            signs[k] = signs[k] or signs[k - 1]
        return self._of_piece(signs, at)

    def _of_piece(self, values: np.ndarray, at: np.ndarray) -> np.ndarray:
        piece = np.searchsorted(self.start, at, side="right") - 1
        return np.asarray(values[np.clip(piece, 0, len(values) - 1)])
