"""One Track from one series: levels, changes, excursions, stretches, and whether it is flagged."""

from collections.abc import Sequence

import numpy as np

from regscan.drift.changes import find_changes
from regscan.drift.drift import Segment, Stretch, Track
from regscan.drift.excursions import find_excursions
from regscan.drift.frames import Frames
from regscan.drift.levels import find_levels
from regscan.drift.printed import segment_of, speed_when_printed
from regscan.drift.reasons import Findings, find_reasons
from regscan.drift.series import Series
from regscan.drift.stretches import find_stretches, good_frames
from regscan.job.job import Job


def make_track(series: Series, frames: Frames, segments: tuple[Segment, ...], job: Job) -> Track:
    """Everything there is to say about one colour on one axis of one camera and edge."""
    of_segment = segment_of(series, frames, segments, job)
    seen = good_frames(series, frames, speed_when_printed(series, frames, job))
    levels = find_levels(series, of_segment, segments)
    found = Findings(
        levels=levels,
        changes=find_changes(levels),
        stretches=find_stretches(seen),
        settled=levels[-1] if levels else None,
    )
    reasons = find_reasons(series, found)
    ok, doubtful = int(series.ok.sum()), int(series.doubtful.sum())
    return Track(
        station=series.station,
        ink=series.ink,
        camera=series.camera,
        edge=series.edge,
        axis=series.axis,
        tolerance_mm=series.tolerance_mm,
        frames_ok=ok,
        frames_doubtful=doubtful,
        frames_missing=len(series.frame) - ok - doubtful,
        settled=found.settled,
        levels=levels,
        changes=found.changes,
        excursions=find_excursions(seen, of_segment[series.ok], segments),
        stretches=found.stretches,
        metres_outside=_metres(found.stretches, seen.web_m),
        frames_outside=sum(s.frames for s in found.stretches),
        flagged=bool(reasons),
        reasons=reasons,
    )


def _metres(stretches: Sequence[Stretch], web_m: np.ndarray) -> float | None:
    """Metres outside in all; None where they cannot be known, 0 only where there were none."""
    if not np.isfinite(web_m).all():
        return None
    return sum((s.metres for s in stretches if s.metres is not None), 0.0)
