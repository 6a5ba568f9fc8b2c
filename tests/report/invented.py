"""An invented run for looking at reports: every number here is made up, none is measured.

Two stations misbehave: cyan runs late when the press slows down, magenta sits to the drive side.
"""

import math
from itertools import pairwise

import numpy as np

from regscan.camera.camera import Camera
from regscan.drift.drift import (
    Change,
    Disagreement,
    Drift,
    Excursion,
    Level,
    Segment,
    Stretch,
    Track,
)
from regscan.job.job import AXES, Colour, Ink, Job, Press, Station, Steps, Tolerance
from regscan.job.layout import Cross, Diamond, Disc, MarkDesign, Ring, Square, Triangle
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS, dtype_of
from regscan.run import Inputs, Run, SkippedFrame
from regscan.verdict.verdict import Case, Correction, Verdict

FRAMES_PER_SEGMENT = 24
SPEEDS = [(150, 150), (150, 50), (50, 50), (50, 150), (150, 150)]
PHASES = ["hold", "slowing down", "hold", "speeding up", "hold"]
STEP_M = 2.5
TOLERANCE_MM = 0.10
INKS = ["white", "cyan", "magenta", "yellow", "black", "clear varnish"]
LAB = {
    "white": (93.0, 0.0, 2.0),
    "cyan": (55.0, -37.0, -50.0),
    "magenta": (48.0, 74.0, -3.0),
    "yellow": (89.0, -5.0, 93.0),
    "black": (16.0, 0.0, 0.0),
}
SHAPES = {
    "white": Square(0.7),
    "cyan": Disc(0.6),
    "magenta": Cross(0.8, 0.25),
    "yellow": Diamond(0.8, 0.8),
    "black": Ring(0.8, 0.4),
}
PLACES = {
    "white": (-1.4, -1.4),
    "cyan": (-1.4, 1.4),
    "magenta": (0.0, 0.0),
    "yellow": (1.4, -1.4),
    "black": (1.4, 1.4),
}
UNUSED_SHAPE = Triangle(0.7)


def invented_job(name: str = "Honey jar, six colours") -> Job:
    inks = tuple(
        Ink(ink, Colour("lab", LAB[ink]), "opaque" if ink == "white" else "transparent")
        if ink in LAB
        else Ink(ink, None, "invisible")
        for ink in INKS
    )
    stations = tuple(
        Station(n + 1, ink, 0.0 if n == 0 else 1.0, Steps(0.01, 0.01)) for n, ink in enumerate(INKS)
    )
    return Job(
        name=name,
        press=Press("Press 2", 304.8, 330.0, stations),
        inks=inks,
        substrate=Colour("lab", (95.0, 0.0, -2.0)),
        reference="black",
        marks=tuple(MarkDesign(i, SHAPES[i], *PLACES[i]) for i in LAB),
        tolerance=Tolerance(TOLERANCE_MM, TOLERANCE_MM, "house rule"),
        ink_tolerances={"white": Tolerance(0.20, 0.10, "agreed with the customer")},
        path="job.toml",
    )


def speeds() -> np.ndarray:
    """Speed of each frame, m/min."""
    return np.concatenate([np.linspace(a, b, FRAMES_PER_SEGMENT) for a, b in SPEEDS])


def true_offsets(ink: str) -> tuple[np.ndarray, np.ndarray]:
    """(circumferential, lateral) mm of each frame, invented."""
    speed = speeds()
    seed = sum(map(ord, ink))
    rng = np.random.default_rng(seed)
    noise = rng.normal(0, 0.004, (2, len(speed)))
    along, across = noise
    if ink == "cyan":
        along = along + 0.02 + 0.0016 * (150 - speed)
    if ink == "magenta":
        across = across + 0.118
    if ink == "yellow":
        along = along - 0.03 + 0.01 * np.sin(np.arange(len(speed)) / 6)
    if ink == "black":
        along, across = np.zeros(len(speed)), np.zeros(len(speed))
    return along, across


def invented_offsets(job: Job, *, with_web: bool = True, with_time: bool = True) -> np.ndarray:
    """The table of offsets of the invented run."""
    speed = speeds()
    web = np.arange(len(speed)) * STEP_M
    time = np.concatenate([[0.0], np.cumsum(STEP_M / (speed[1:] / 60.0))])
    seen = [s for s in job.press.stations if job.ink(s.ink).measurable]
    table = np.zeros(len(speed) * len(seen), dtype_of(OFFSET_COLUMNS))
    offsets = {s.ink: true_offsets(s.ink) for s in seen}
    for k in range(len(speed)):
        for n, station in enumerate(seen):
            row = table[k * len(seen) + n]
            along, across = (values[k] for values in offsets[station.ink])
            row["frame"] = f"{k + 1:04d}.png"
            row["time_s"] = time[k] if with_time else math.nan
            row["web_m"] = web[k] if with_web else math.nan
            row["speed_m_min"] = speed[k] if with_web or with_time else math.nan
            row["station"], row["ink"], row["status"] = station.number, station.ink, "ok"
            row["circumferential_mm"], row["lateral_mm"] = along, across
            sd = 0.0 if station.ink == job.reference else 0.0012
            row["circumferential_sd_mm"] = row["lateral_sd_mm"] = sd
    _spoil(table)
    return table


def _spoil(table: np.ndarray) -> None:
    """One doubtful yellow far out, three whites missing."""
    yellow = np.flatnonzero(table["ink"] == "yellow")[30]
    table["status"][yellow] = "doubtful"
    table["note"][yellow] = "something else is printed on or against the mark"
    table["circumferential_mm"][yellow] = 0.21
    for white in np.flatnonzero(table["ink"] == "white")[60:63]:
        table["status"][white] = "missing"
        table["note"][white] = "the shape could not be fitted to the pixels"
        for name in ("circumferential", "lateral"):
            table[f"{name}_mm"][white] = table[f"{name}_sd_mm"][white] = math.nan


def invented_marks(job: Job, offsets: np.ndarray) -> np.ndarray:
    """The table of marks of the invented run: 640 x 480 px at 0.012 mm per px."""
    camera = invented_camera()
    table = np.zeros(len(offsets), dtype_of(MARK_COLUMNS))
    for row, offset in zip(table, offsets, strict=True):
        for name in ("frame", "camera", "edge", "ink", "status"):
            row[name] = offset[name]
        design = next(m for m in job.marks if m.ink == offset["ink"])
        place = camera.to_pixels(
            design.circumferential_mm + offset["circumferential_mm"],
            design.lateral_mm + offset["lateral_mm"],
        )
        row["row_px"], row["col_px"] = place[0] + 240, place[1] + 320
        row["row_sd_px"] = row["col_sd_px"] = 0.07
        row["contrast"], row["edge_px"], row["area_ratio"], row["misfit"] = 0.6, 1.4, 1.05, 0.03
    missing = table["status"] == "missing"
    for name in ("contrast", "edge_px", "area_ratio", "misfit", "row_sd_px", "col_sd_px"):
        table[name][missing] = math.nan
    return table


def invented_camera() -> Camera:
    return Camera(0.012, 0.012)


def invented_segments(offsets: np.ndarray) -> tuple[Segment, ...]:
    first = offsets[offsets["station"] == 1]
    segments = []
    for n, (phase, (start, end)) in enumerate(zip(PHASES, SPEEDS, strict=True)):
        a, b = n * FRAMES_PER_SEGMENT, (n + 1) * FRAMES_PER_SEGMENT - 1
        known = [
            None if math.isnan(first[name][k]) else float(first[name][k])
            for name in ("time_s", "web_m")
            for k in (a, b)
        ]
        segments.append(Segment(n + 1, phase, a, b, *known, float(start), float(end)))  # type: ignore[arg-type]
    return tuple(segments)


def _level(number: int, values: np.ndarray) -> Level:
    spread = float(np.std(values))
    return Level(
        number + 1, float(SPEEDS[number][0]), len(values), float(np.mean(values)), 0.002, spread
    )


def _change(earlier: Level, later: Level) -> Change:
    change = later.mean_mm - earlier.mean_mm
    return Change(earlier.segment, later.segment, change, 0.003, abs(change) > 0.02)


def _stretches(rows: np.ndarray, axis: str, tolerance: float) -> tuple[Stretch, ...]:
    outside = (np.abs(rows[f"{axis}_mm"]) > tolerance) & (rows["status"] == "ok")
    edges = np.flatnonzero(np.diff(np.concatenate([[0], outside.astype(int), [0]])))
    found = []
    for a, b in zip(edges[::2], edges[1::2] - 1, strict=True):
        back = min(b + 1, len(rows) - 1)
        known = {
            name: None if math.isnan(rows["web_m"][k]) else float(rows["web_m"][k])
            for name, k in (("from_m", a), ("to_m", back))
        }
        worst = rows[f"{axis}_mm"][a : b + 1]
        found.append(
            Stretch(
                from_frame=str(rows["frame"][a]),
                to_frame=str(rows["frame"][b]),
                frames=int(b - a + 1),
                from_m=known["from_m"],
                to_m=known["to_m"],
                metres=None
                if known["from_m"] is None or known["to_m"] is None
                else known["to_m"] - known["from_m"],
                from_s=float(rows["time_s"][a]) if np.isfinite(rows["time_s"][a]) else None,
                to_s=float(rows["time_s"][back]) if np.isfinite(rows["time_s"][back]) else None,
                left_at_speed_m_min=float(rows["speed_m_min"][a]),
                back_at_speed_m_min=float(rows["speed_m_min"][back]),
                worst_mm=float(worst[np.argmax(np.abs(worst))]),
                returned=bool(b + 1 < len(rows)),
            )
        )
    return tuple(found)


def invented_track(rows: np.ndarray, axis: str, job: Job) -> Track:
    ink, count = str(rows["ink"][0]), FRAMES_PER_SEGMENT
    tolerance = job.tolerance_for(ink).of(axis)  # type: ignore[arg-type]
    good = rows["status"] == "ok"
    values = np.where(good, rows[f"{axis}_mm"], np.nan)
    parts = [values[n * count : (n + 1) * count] for n in range(len(PHASES))]
    levels = tuple(_level(n, p[np.isfinite(p)]) for n, p in enumerate(parts) if PHASES[n] == "hold")
    excursions = []
    for n, part in enumerate(parts):
        if PHASES[n] == "hold":
            continue
        k = n * count + int(np.nanargmax(np.abs(part)))
        row = rows[k]
        excursions.append(
            Excursion(n + 1, str(row["frame"]), float(row["time_s"]), float(row["web_m"]),
                      float(row["speed_m_min"]), float(row[f"{axis}_mm"]), 0.0012)
        )  # fmt: skip
    stretches = _stretches(rows, axis, tolerance)
    metres = [s.metres for s in stretches if s.metres is not None]
    flagged = bool(stretches)
    return Track(
        station=int(rows["station"][0]),
        ink=ink,
        camera="",
        edge="",
        axis=axis,  # type: ignore[arg-type]
        tolerance_mm=tolerance,
        frames_ok=int(good.sum()),
        frames_doubtful=int((rows["status"] == "doubtful").sum()),
        frames_missing=int((rows["status"] == "missing").sum()),
        settled=levels[-1],
        levels=levels,
        changes=tuple(
            _change(a, b) for a, b in pairwise(levels)
        ),
        excursions=tuple(excursions),
        stretches=stretches,
        metres_outside=sum(metres) if metres or not flagged else None,
        frames_outside=sum(s.frames for s in stretches),
        flagged=flagged,
        reasons=("left tolerance while slowing down",) if flagged else (),
    )  # fmt: skip


def invented_run(
    name: str = "Honey jar, six colours", *, with_web: bool = True, with_time: bool = True
) -> tuple[Run, np.ndarray, np.ndarray]:
    """(run, offsets, marks) of the invented ramp."""
    job = invented_job(name)
    offsets = invented_offsets(job, with_web=with_web, with_time=with_time)
    stations = [s for s in job.press.stations if job.ink(s.ink).measurable]
    tracks = tuple(
        invented_track(offsets[offsets["station"] == s.number], axis, job)
        for s in stations
        if s.ink != job.reference
        for axis in AXES
    )
    outside = [t.metres_outside for t in tracks if t.metres_outside]
    drift = Drift(
        segments=invented_segments(offsets),
        tracks=tracks,
        disagreements=(Disagreement("cyan", "lateral", "end", "middle", 0.02, 0.004, True),),
        metres_total=STEP_M * (len(speeds()) - 1) if with_web else None,
        metres_outside=max(outside, default=0.0) if with_web else None,
        notes=("the speed log has a gap from 61.0 s to 63.5 s: no web position is given there",),
    )
    run = Run(
        kind="ramp",
        job=job,
        cameras=(invented_camera(),),
        inputs=Inputs(
            frames_folder="ramp",
            frames_found=len(speeds()) + 1,
            frames_used=len(speeds()),
            skipped=(
                SkippedFrame("0121.png", "the file ends early: it was cut off while copying"),
            ),
            clock="time_s from frames.csv, web position by integration of speed_log.csv",
            notes=("frames.csv names no camera: all frames are taken as one camera's",),
            regscan_version="0.1.0",
            made_at="2025-11-25T10:00:00+00:00",
        ),
        drift=drift,
        corrections=invented_corrections(tracks),
        verdict=invented_verdict(tracks),
    )
    return run, offsets, invented_marks(job, offsets)


def invented_corrections(tracks: tuple[Track, ...]) -> tuple[Correction, ...]:
    found = []
    for track in tracks:
        level = track.settled.mean_mm if track.settled else 0.0
        move = -round(level, 2) if abs(level) > 0.03 else 0.0
        words = {"circumferential": ("advance", "retard"), "lateral": ("operator", "drive")}
        word = words[track.axis][0 if move < 0 else 1]
        text = (
            f"{word} {abs(move):.2f} mm"
            if track.axis == "circumferential"
            else f"move {abs(move):.2f} mm toward {word} side"
        )
        found.append(
            Correction(track.station, track.ink, track.axis, move, round(move / 0.01),
                       text if move else "leave", level + move, 0.002)
        )  # fmt: skip
    return tuple(found)


def _case(track: Track) -> Case:
    level = track.settled
    assert level is not None
    out = abs(level.mean_mm) > track.tolerance_mm
    return Case(
        station=track.station,
        ink=track.ink,
        camera=track.camera,
        edge=track.edge,
        axis=track.axis,
        tolerance_mm=track.tolerance_mm,
        offset_mm=level.mean_mm,
        sd_mm=level.sd_mm,
        probability=0.0 if out else 1.0,
        frames=level.frames,
        answer="out of tolerance" if out else "in register",
        why="the level lies outside the tolerance" if out else "the level lies inside it",
    )


def invented_verdict(tracks: tuple[Track, ...]) -> Verdict:
    return Verdict(
        answer="out of tolerance",
        sentence="Magenta (station 3) lies 0.118 mm toward the drive side; 0.100 mm is allowed.",
        cases=tuple(_case(track) for track in tracks),
        rule="p = P(|true offset| <= tolerance) against 95 % (JCGM 106:2012)",
    )
