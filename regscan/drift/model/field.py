"""One channel of a scene ready to be fitted: values, weights, clocks, and the web's spans."""

from dataclasses import dataclass, replace

import numpy as np

from regscan.drift.behaviour import Channel
from regscan.drift.model.channels import Scene
from regscan.drift.model.clocks import Moments, RunClock, printed_moments
from regscan.drift.model.transport import Spans, grid_of
from regscan.drift.pieces import noise_of
from regscan.job.job import Job

MOST = 1000
"""More moments than this are taken together by twos, threes, ...: what is slow loses nothing."""
FEWEST = 12
"""A station with fewer values than this says nothing."""
OUTLIER = 6.0
"""A single moment that stands off this many noise widths from its neighbours counts little."""


@dataclass(frozen=True)
class Field:
    """moments x stations of one channel; the reference is left out of `value_mm`.

    columns    index in the scene's stations of each column of value_mm.
    weight     1 for a full observation, 0 for none.
    gap        moments since the one before.
    clock      the scene's moments of printing, before any are taken together.
    starts     index in the clock where each moment here begins.
    grid_m, along   web positions evenly spaced over the run, and the moments there.
    shelf      columns and filters that were worked out before, of use to all channels.
    """

    channel: Channel
    value_mm: np.ndarray
    weight: np.ndarray
    gap: np.ndarray
    clock: Moments
    spans: Spans
    columns: np.ndarray
    reference: int
    starts: np.ndarray
    grid_m: np.ndarray
    along: Moments
    shelf: dict[object, np.ndarray]

    @property
    def stations(self) -> int:
        """How many stations the scene has, the reference and silent ones too."""
        return len(self.spans.column)

    def together(self, values: np.ndarray) -> np.ndarray:
        """Means of values at the scene's moments (first axis) over those that are one here."""
        if len(self.starts) == len(values):
            return values
        counts = np.diff(np.append(self.starts, len(values)))
        total = np.add.reduceat(values, self.starts, axis=0)
        return np.asarray(total / counts.reshape(-1, *[1] * (values.ndim - 1)))

    def against(self, own: np.ndarray) -> np.ndarray:
        """What moves of all stations (moments x stations x ...) look like against the reference."""
        return np.asarray(own[:, self.columns] - own[:, [self.reference]])


@dataclass(frozen=True)
class Course:
    """What all channels of a scene share: its moments of printing, and the web in between."""

    scene: Scene
    moments: Moments
    spans: Spans
    grid_m: np.ndarray
    along: Moments
    shelf: dict[object, np.ndarray]


def course_of(scene: Scene, clock: RunClock, job: Job) -> Course:
    """The course of a scene's stations through the run."""
    moments, spans = printed_moments(clock, scene, job), spans_of(scene, job)
    grid = np.zeros(2)
    along = moments
    if moments.web_m is not None:
        grid = grid_of(moments.web_m, spans)
        along = clock.at(grid[:, None])
    return Course(scene, moments, spans, grid, along, {})


def field_of(course: Course, channel: Channel, known_mm: np.ndarray | None = None) -> Field | None:
    """The channel as a field; None when no station has enough values to say anything.

    known_mm   what is taken out beforehand, moments x stations of the scene.
    """
    scene = course.scene
    value = scene.value_mm[channel] if known_mm is None else scene.value_mm[channel] - known_mm
    value = np.delete(value, scene.reference, axis=1)
    columns = np.delete(np.arange(len(scene.stations)), scene.reference)
    enough = np.isfinite(value).sum(axis=0) >= FEWEST
    if not enough.any():
        return None
    value, columns = value[:, enough], columns[enough]
    weight = np.where(np.isfinite(value), 1.0, 0.0)
    weight *= np.column_stack([_trust(v) for v in value.T])
    return Field(
        channel=channel,
        value_mm=np.nan_to_num(value),
        weight=weight,
        gap=_gaps(course.moments),
        clock=course.moments,
        spans=course.spans,
        columns=columns,
        reference=scene.reference,
        starts=np.arange(len(value)),
        grid_m=course.grid_m,
        along=course.along,
        shelf=course.shelf,
    )


def spans_of(scene: Scene, job: Job) -> Spans:
    """The press's spans and which stations are observed."""
    stations = job.press.stations
    lengths = np.array([s.path_m if s.path_m > 0.0 else 1.0 for s in stations])
    return Spans(lengths, np.array(scene.stations) - 1)


def _gaps(clock: Moments) -> np.ndarray:
    """Moments since the one before: where frames are lost, more than one."""
    at = clock.web_m if clock.web_m is not None else clock.order
    steps = np.diff(at[:, 0])
    usual = float(np.median(steps)) if len(steps) else 1.0
    if usual <= 0.0:
        return np.ones(len(at))
    return np.concatenate(([1.0], np.clip(steps / usual, 0.01, 1000.0)))


def _trust(values: np.ndarray) -> np.ndarray:
    """Weights that let no single wild moment pull; several in a row are no accident."""
    seen = np.flatnonzero(np.isfinite(values))
    trust = np.ones(len(values))
    if len(seen) < 7:
        return trust
    v = values[seen]
    noise = noise_of(v)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(v, 2, mode="edge"), 5)
    off = np.abs(v - np.median(around, axis=1))
    wild = off > OUTLIER * noise if noise > 0.0 else np.zeros(len(v), dtype=bool)
    alone = wild & ~np.roll(wild, 1) & ~np.roll(wild, -1)
    trust[seen[alone]] = (noise / off[alone]) ** 2
    return trust


def thinned(field: Field) -> Field:
    """The field with moments taken together, so that no more than MOST are left."""
    size = -(-len(field.gap) // MOST)
    if size == 1:
        return field
    starts = np.arange(0, len(field.gap), size)
    counts = np.diff(np.append(starts, len(field.gap)))
    total = np.add.reduceat(field.weight, starts)
    value = np.add.reduceat(field.weight * field.value_mm, starts)
    return replace(
        field,
        value_mm=value / np.maximum(total, 1e-9),
        weight=total / counts[:, None] * (counts / size)[:, None],
        starts=starts,
        gap=np.concatenate(([1.0], np.add.reduceat(field.gap, starts)[1:] / size)),
    )
