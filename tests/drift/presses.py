"""An invented press and tables of offsets measured on it, with a truth to hold against them."""

from dataclasses import dataclass, field

import numpy as np

from drift.profiles import DOWN_UP, Profile
from regscan.job.job import CameraPost, Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import Disc, MarkDesign
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of

INKS = ("white", "cyan", "magenta", "yellow", "black")
LAB = Colour("lab", (50.0, 0.0, 0.0))


def make_job(*, inks=INKS, cameras=(), invisible=(), path_m=1.0, tolerance=0.1):
    stations = tuple(
        Station(k, ink, path_m if k > 1 else 0.0) for k, ink in enumerate((*inks, *invisible), 1)
    )
    drawn = [Ink(ink, LAB) for ink in inks] + [Ink(v, None, "invisible") for v in invisible]
    marks = tuple(MarkDesign(ink, Disc(0.6), 0.0, 1.2 * k) for k, ink in enumerate(inks))
    return Job(
        name="Honey jar",
        press=Press("Press 2", 304.8, 330.0, stations, cameras),
        inks=tuple(drawn),
        substrate=LAB,
        reference="black",
        marks=marks,
        tolerance=Tolerance(tolerance, tolerance, "house rule"),
    )


JOB = make_job()
TWO_CAMERAS = make_job(
    cameras=(CameraPost("middle", 5, 0.5), CameraPost("end", 5, 2.0)),
)


@dataclass(frozen=True)
class Made:
    """How a table is made: `truth[ink]` gives (circumferential, lateral) mm from time in s."""

    profile: Profile = DOWN_UP
    pitch_m: float = 3.0
    noise_mm: float = 0.008
    wander: float = 0.0
    truth: dict = field(default_factory=dict)
    camera: str = ""
    edge: str = ""


def noise_of(rng, count, sd, wander):
    """Noise of that spread; wander is its lag-one correlation."""
    white = rng.normal(0, 1, count)
    out = np.empty(count)
    out[0] = white[0]
    for k in range(1, count):
        out[k] = wander * out[k - 1] + np.sqrt(1 - wander**2) * white[k]
    return sd * out


def rows_of(made, seed, inks=INKS):
    rng = np.random.default_rng(seed)
    t = made.profile.frames_every_m(made.pitch_m)
    web, speed = made.profile.web(t), made.profile.speed(t)
    rows = []
    for number, ink in enumerate(inks, 1):
        late, side = made.truth.get(ink, lambda s: (0 * s, 0 * s))(t)
        noisy = 0.0 if ink == "black" else 1.0
        values = [
            v + noisy * noise_of(rng, len(t), made.noise_mm, made.wander) for v in (late, side)
        ]
        for k in range(len(t)):
            rows.append(
                {
                    "frame": f"{made.camera}{k:05d}.png",
                    "time_s": t[k],
                    "web_m": web[k],
                    "speed_m_min": speed[k],
                    "camera": made.camera,
                    "edge": made.edge,
                    "station": number,
                    "ink": ink,
                    "status": "ok",
                    "circumferential_mm": values[0][k],
                    "lateral_mm": values[1][k],
                    "circumferential_sd_mm": 0.0005 * noisy,
                    "lateral_sd_mm": 0.0005 * noisy,
                }
            )
    return rows


def make_table(made, seed, inks=INKS):
    return table_of(rows_of(made, seed, inks), OFFSET_COLUMNS)


def track_of(drift, ink, axis="circumferential", camera="", edge=""):
    wanted = (ink, axis, camera, edge)
    (track,) = [t for t in drift.tracks if (t.ink, t.axis, t.camera, t.edge) == wanted]
    return track
