"""From what a view found to the records that a reader gets."""

import math

from regscan.drift.alert import Alert, AlertKind, Forecast
from regscan.drift.monitor.record import ChannelNow
from regscan.drift.monitor.view import Channel, Said, Shift, View
from regscan.drift.monitor.words import of_station, shift_words, warning_words
from regscan.recording.frame import FrameInfo


def alerts_of(view: View, info: FrameInfo, edge: str, said: Said) -> list[Alert]:
    """Everything one frame raised, shifts first."""
    shifts = [_shifted(view, info, edge, said, shift) for shift in said.shifts]
    return shifts + [_warned(view, info, edge, said, k, f) for k, f in said.warnings]


def _shifted(view: View, info: FrameInfo, edge: str, said: Said, shift: Shift) -> Alert:
    channel = view.channels[shift.channel]
    moved = shift.level_mm - shift.before_mm
    since = known(shift.since) if view.metres else None
    chart: AlertKind = "cusum" if shift.cusum else "ewma"
    words = shift_words(channel.axis, moved, since)
    return _alert(chart, channel, info, edge, said, (shift.level_mm, moved, since, None, words))


def _warned(
    view: View, info: FrameInfo, edge: str, said: Said, k: int, forecast: Forecast
) -> Alert:
    warner = view.warner if said.pace == "steady" else view.ramp_warner
    assert warner
    channel = view.channels[k]
    level = float(warner.outlook.state()[0][k])
    words = warning_words(channel.axis, forecast, said.pace == "speed changes")
    return _alert("early warning", channel, info, edge, said, (level, None, None, forecast, words))


What = tuple[float, float | None, float | None, Forecast | None, str]


def _alert(
    kind: AlertKind, channel: Channel, info: FrameInfo, edge: str, said: Said, what: What
) -> Alert:
    level, moved, since, forecast, words = what
    who = of_station(channel.station, channel.ink, channel.axis, info.camera, edge)
    return Alert(
        kind=kind,
        station=channel.station,
        ink=channel.ink,
        axis=channel.axis,
        camera=info.camera,
        edge=edge,
        frame=info.name,
        time_s=info.time_s,
        web_m=info.web_m,
        speed_m_min=info.speed_m_min,
        pace=said.pace,
        level_mm=level,
        moved_mm=moved,
        since_m=since,
        forecast=forecast,
        sentence=f"{who}: {words}",
    )


def channel_now(view: View, k: int, camera: str, edge: str) -> ChannelNow:
    """One channel of a view at its newest frame."""
    channel, shifts = view.channels[k], view.shifts
    warner = view.ramp_warner if view.pace == "speed changes" else view.warner
    noise = known(float(view.learnt.noise.sd[0, k])) if view.learnt else None
    level = sd = None
    if warner and warner.outlook.seen[k]:
        level, sd = (known(float(part[k])) for part in warner.outlook.state()[:2])
    return ChannelNow(
        station=channel.station,
        ink=channel.ink,
        axis=channel.axis,
        camera=camera,
        edge=edge,
        pace=view.pace,
        learnt=noise is not None,
        tolerance_mm=channel.tolerance_mm,
        level_mm=level,
        level_sd_mm=sd,
        noise_mm=noise,
        target_mm=known(float(shifts.filter.level[0, k])) if shifts and shifts.seen[k] else None,
        ewma=float(shifts.ewma.value[k]) if shifts else 0.0,
        ewma_limit=shifts.ewma.limit if shifts else math.inf,
        cusum_late=float(shifts.cusum.high[k]) if shifts else 0.0,
        cusum_early=float(shifts.cusum.low[k]) if shifts else 0.0,
        cusum_limit=float(shifts.cusum.limit[k]) if shifts else math.inf,
        forecast=warner.forecasts[k] if warner else None,
    )


def known(value: float) -> float | None:
    """None instead of what is no number."""
    return value if math.isfinite(value) else None
