"""What a run of the bank must have for a fault to show."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Need:
    """Wants of one fault.

    edges       marks at both web edges; marks   places round the repeat, at least.
    near        frames close to each other, since the fault passes within metres of web.
    grips       drums that grip, at least half.
    ramps       speeds that change; two_rates   and at two rates of ramp.
    long_min    minutes of run it takes, at least.
    """

    edges: bool = False
    marks: int = 1
    near: bool = False
    grips: bool = False
    ramps: bool = False
    two_rates: bool = False
    long_min: float = 0.0


# Every fault of the table but trigger-latency, which no table of offsets shows.
NEEDS: dict[str, Need] = {
    "backlash": Need(ramps=True, two_rates=True),
    "wind-up": Need(ramps=True),
    "gear-run-out": Need(),
    "plate-run-out": Need(marks=4),
    "roller-run-out": Need(),
    "tension-step": Need(near=True),
    "unwind-inertia": Need(near=True, ramps=True),
    "idler-drag": Need(ramps=True),
    "air-film": Need(grips=True, ramps=True),
    "servo-delay": Need(ramps=True),
    "flash-timing": Need(ramps=True),
    "rolling-shutter": Need(ramps=True),
    "lamp-warm-up": Need(long_min=8.0),
    "chill-drum": Need(grips=True, long_min=20.0),
    "film-shrink": Need(edges=True, ramps=True),
    "impression": Need(),
    "plate-slip": Need(),
    "plate-creep": Need(),
    "plate-mounting": Need(edges=True, marks=3),
    "cocked-cylinder": Need(edges=True, marks=3),
    "guide-hunting": Need(near=True),
    "side-lay-drift": Need(ramps=True, long_min=8.0),
    "moisture": Need(edges=True, long_min=15.0),
    "splice": Need(near=True),
    "baggy-edge": Need(edges=True, near=True),
    "roll-change": Need(edges=True, near=True),
}
