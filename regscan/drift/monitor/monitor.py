"""The monitor: fed the offsets of frame after frame, it says what shifts and what will leave."""

import math
from collections.abc import Collection, Iterable

import numpy as np

from regscan.drift.alert import Alert
from regscan.drift.monitor.record import ChannelNow, MonitorRules
from regscan.drift.monitor.told import alerts_of, channel_now
from regscan.drift.monitor.view import Channel, View
from regscan.drift.series import expected_inks
from regscan.job.job import AXES, Job
from regscan.offsets.offset import Offset
from regscan.recording.frame import FrameInfo

SPANS = 3.0  # a strain that passes has gone to 5 % after three spans of web
SETTLE_FRAMES = 10.0  # where no metres are known


class Monitor:
    """Follows a run sample by sample; nothing of what comes later is used.

    job     its colours, tolerances and web paths.
    rules   limits of the charts, horizon of the warnings.

    Feed frames in the order of the run; frames of several cameras or web edges may alternate.
    The first `rules.learn_frames` steady frames tell the noise and raise no alarm. Charts run
    while the speed holds and the print has settled; warnings also while the speed changes.
    """

    def __init__(self, job: Job, rules: MonitorRules | None = None) -> None:
        self.job, self.rules = job, rules or MonitorRules()
        self.views: dict[tuple[str, str], View] = {}
        self.fed: dict[tuple[str, str], int] = {}

    def feed(self, info: FrameInfo, offsets: Iterable[Offset]) -> tuple[Alert, ...]:
        """Take one frame; the alerts it raises, shifts first.

        offsets   one per colour (and mark set) of the frame; those not `ok` count as not seen,
                  colours the job does not know are left out.

        Frames without a web position count as one step each where the first had none, and
        are left out where the first had one.
        """
        alerts: list[Alert] = []
        by_edge: dict[str, list[Offset]] = {}
        for offset in offsets:
            by_edge.setdefault(offset.edge, []).append(offset)
        for edge, mine in by_edge.items():
            view, at = self._view(info, edge)
            if at is not None:
                said = view.feed(at, info.speed_m_min, _samples(view, mine))
                alerts += alerts_of(view, info, edge, said)
        return tuple(alerts)

    def now(self) -> tuple[ChannelNow, ...]:
        """Every colour and axis at its newest frame, in order of camera, edge, station, axis."""
        return tuple(
            channel_now(view, k, camera, edge)
            for (camera, edge), view in sorted(self.views.items())
            for k in range(len(view.channels))
        )

    def restart(self, inks: Collection[str]) -> None:
        """These colours print elsewhere from here on, on purpose: a move of theirs shows."""
        for view in self.views.values():
            view.restart([channel.ink in inks for channel in view.channels])

    def _view(self, info: FrameInfo, edge: str) -> tuple[View, float | None]:
        """The view of a camera and edge, and where along the run the frame lies."""
        key = info.camera, edge
        if key not in self.views:
            metres = info.web_m is not None
            settle = self._settle_m(info.camera) if metres else SETTLE_FRAMES
            self.views[key] = View(self._channels(*key), settle, metres, self.rules)
            self.fed[key] = 0
        view = self.views[key]
        self.fed[key] += 1
        return view, (info.web_m if view.metres else float(self.fed[key]))

    def _channels(self, camera: str, edge: str) -> list[Channel]:
        job = self.job
        return [
            Channel(job.station_of(ink).number, ink, axis, job.tolerance_for(ink).of(axis))
            for ink in expected_inks(job, camera, edge)
            if ink != job.reference
            for axis in AXES
        ]

    def _settle_m(self, camera: str) -> float:
        """Web from a speed change until the camera sees a print that has settled."""
        press = self.job.press
        try:
            path = press.path_to_camera_m(1, camera)
        except KeyError:
            path = press.path_between_m(1, len(press.stations))
        return path + SPANS * max(station.path_m for station in press.stations)


def _samples(view: View, offsets: Iterable[Offset]) -> np.ndarray:
    """One value per channel of the view; NaN where the colour was not well seen."""
    samples = np.full(len(view.channels), math.nan)
    seen = {offset.ink: offset for offset in offsets if offset.status == "ok"}
    for k, channel in enumerate(view.channels):
        if channel.ink in seen:
            samples[k] = seen[channel.ink].value_mm(channel.axis)
    return samples
