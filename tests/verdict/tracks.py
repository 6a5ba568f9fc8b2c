"""Tracks made by hand, for verdicts on known numbers."""

from regscan.drift.drift import Drift, Level, Stretch, Track


def level(mean_mm, sd_mm=0.002, **more):
    """A level of many frames; spread so that the frames are independent."""
    frames = more.pop("frames", 400)
    spread = None if sd_mm is None or frames < 2 else sd_mm * frames**0.5
    values = {"segment": 5, "speed_m_min": 120.0, "spread_mm": spread, **more}
    return Level(frames=frames, mean_mm=mean_mm, sd_mm=sd_mm, **values)


def stretch(worst_mm, metres=18.2):
    return Stretch(
        "a.png", "b.png", 6, 100.0, 118.2, metres, 50.0, 60.0, 50.0, 60.0, worst_mm, True
    )


def track(ink="cyan", axis="circumferential", settled=None, **more):
    """One track; settled may be a level or an offset in mm."""
    if isinstance(settled, float):
        settled = level(settled)
    stations = {"white": 1, "cyan": 2, "magenta": 3, "yellow": 4, "black": 5}
    stretches = more.pop("stretches", ())
    values = {
        "camera": "",
        "edge": "",
        "tolerance_mm": 0.1,
        "frames_ok": settled.frames if settled else 0,
        "frames_doubtful": 0,
        "frames_missing": 0,
        "levels": (settled,) if settled else (),
        "metres_outside": sum(s.metres for s in stretches),
        "frames_outside": sum(s.frames for s in stretches),
        "flagged": False,
        "reasons": (),
        **more,
    }
    return Track(
        station=stations[ink],
        ink=ink,
        axis=axis,
        settled=settled,
        changes=(),
        excursions=(),
        stretches=stretches,
        **values,
    )


def drift_of(*tracks):
    return Drift((), tracks, (), 500.0, 0.0, ())
