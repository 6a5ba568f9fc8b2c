"""What the monitor is asked to keep to, and what it says: plain records.

Offsets as everywhere: + is late, + is toward the drive side. Metres are web at the camera.
"""

from dataclasses import dataclass

from regscan.drift.alert import Forecast, Pace
from regscan.job.job import Axis


@dataclass(frozen=True, slots=True)
class MonitorRules:
    """What may be set.

    calm_frames     frames of calm print, over all colours and axes together, to one false alarm
                    of the charts. Common practice, no source.
    ewma_weight     of the newest frame.
    cusum_slack_sd  half the shift the cusum is made for, in noise of single frames; less of it
                    is left where the print wanders.
    learn_frames    steady frames from which the noise is first told; it is told anew when
                    there are twice, four times ... as many.
    horizon_m       how far ahead a colour's leaving tolerance is looked for.
    sure            how probable leaving within the horizon must be to be said.
    confidence      of the interval that is said with it.
    """

    calm_frames: float = 10_000.0
    ewma_weight: float = 0.2
    cusum_slack_sd: float = 0.5
    learn_frames: int = 40
    horizon_m: float = 300.0
    sure: float = 0.9
    confidence: float = 0.9


@dataclass(frozen=True, slots=True)
class ChannelNow:
    """One colour on one axis at the newest frame; all that a live page draws.

    learnt         False until the noise is known: charts and warnings wait for it.
    level_mm, level_sd_mm   where it prints, noise taken out; None before the first frame.
    noise_mm       one standard deviation of single frames.
    target_mm      the level of this hold, which the charts hold the print against.
    ewma           its exponentially weighted mean, and ewma_limit: signals from there on.
    cusum_late, cusum_early   sums toward + and toward -; cusum_limit. Charts count in
                   noise of single frames.
    forecast       where it heads out of tolerance, said or not; None where it does not.
    """

    station: int
    ink: str
    axis: Axis
    camera: str
    edge: str
    pace: Pace
    learnt: bool
    tolerance_mm: float
    level_mm: float | None
    level_sd_mm: float | None
    noise_mm: float | None
    target_mm: float | None
    ewma: float
    ewma_limit: float
    cusum_late: float
    cusum_early: float
    cusum_limit: float
    forecast: Forecast | None
