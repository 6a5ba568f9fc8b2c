"""truth.csv and truth.toml: what a folder of drawn frames really shows."""

import json
import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from itertools import pairwise

import numpy as np

from regscan.job.job import AXES, Axis
from regscan.simulator.look import Shot
from regscan.simulator.motion import printing_moments
from regscan.simulator.scenario import Scenario
from regscan.simulator.truth import FrameTruth

COLUMNS = (
    "frame,time_s,web_m,speed_m_min,camera,edge,station,ink,printed_speed_m_min,"
    "circumferential_mm,lateral_mm,row_px,col_px"
)


@dataclass(frozen=True, slots=True)
class TruthRow:
    """One mark of one frame: its true offset against the reference and its true place."""

    shot: Shot
    station: int
    ink: str
    edge: str
    printed_speed_m_min: float
    circumferential_mm: float
    lateral_mm: float
    row_px: float
    col_px: float

    def of(self, axis: Axis) -> float:
        """The offset on one axis, mm."""
        return self.circumferential_mm if axis == "circumferential" else self.lateral_mm


def truth_rows(scenario: Scenario, shot: Shot, truth: FrameTruth) -> list[TruthRow]:
    """The rows of one frame, in print order. Edges are measured each against their own."""
    job, rows = scenario.job, []
    for mark in truth.marks:
        station = job.station_of(mark.ink).number
        web = np.array([shot.web_m or 0.0])
        moments = printing_moments(job, scenario.motion.speed, station, web, shot.camera)
        offset = truth.against(mark.ink, job.reference)
        rows.append(
            TruthRow(
                shot,
                station,
                mark.ink,
                mark.edge,
                float(moments.speed_m_min[0]),
                offset.circumferential_mm,
                offset.lateral_mm,
                mark.row_px,
                mark.col_px,
            )
        )
    return sorted(rows, key=lambda row: row.station)


def truth_csv(rows: Iterable[TruthRow], clock: bool) -> str:
    """The table as text; times and speeds stay empty where there is no clock."""
    return "\n".join([COLUMNS, *(_line(row, clock) for row in rows)]) + "\n"


def _line(row: TruthRow, clock: bool) -> str:
    shot = row.shot
    when = (shot.time_s, shot.web_m, shot.speed_m_min) if clock else (None, None, None)
    values = [shot.name, *(number(v, 4) for v in when), shot.camera, row.edge or shot.edge]
    values += [str(row.station), row.ink, number(row.printed_speed_m_min if clock else None, 3)]
    values += [number(v, 6) for v in (row.circumferential_mm, row.lateral_mm)]
    values += [number(v, 4) for v in (row.row_px, row.col_px)]
    return ",".join(values)


def number(value: float | None, decimals: int) -> str:
    """A number with so many decimals; empty when it is not known (None or NaN)."""
    return "" if value is None or math.isnan(value) else f"{value:.{decimals}f}"


def truth_toml(scenario: Scenario, rows: list[TruthRow], drawn_by: str) -> str:
    """What was drawn and how, what was injected, and which stretches leave tolerance."""
    job = scenario.job
    head = {
        "format": 1,
        "drawn_by": drawn_by,
        "scenario": scenario.name,
        "seed": scenario.wish.seed,
        "frames": len(scenario.shots),
        "agree_mm": scenario.agree_mm,
        "reference": job.reference,
    }
    parts = ["# The truth of these drawn frames. Offsets: + is late, + is toward the drive side."]
    parts += _table(head)
    if scenario.clock:
        parts += _tables("holds", _holds(scenario))
    parts += _tables("injected", _injected(scenario))
    for misbehaving, stretches in _misbehaving(scenario, rows):
        parts += _tables("misbehaves", [misbehaving])
        parts += _tables("misbehaves.stretches", stretches)
    return "\n".join(parts) + "\n"


def _holds(scenario: Scenario) -> list[dict[str, object]]:
    """The stretches of steady speed, and the frames that show only marks printed in them."""
    speed, job = scenario.motion.speed, scenario.job
    oldest = max(
        job.press.path_to_camera_m(s.number, _camera(scenario)) for s in job.press.stations
    )
    holds: list[dict[str, object]] = []
    points = zip(speed.times_s, speed.speeds_m_min, strict=True)
    for (start, at), (end, then) in pairwise(points):
        if at != then:
            continue
        first_m = float(speed.web_at(np.array([start]))[0]) + (oldest if start > 0.0 else 0.0)
        inside = [
            shot.name
            for shot in scenario.shots
            if (shot.web_m or 0.0) >= first_m and (shot.time_s or 0.0) <= end
        ]
        if inside:
            holds.append(
                {"from_s": start, "to_s": end, "speed_m_min": at,
                 "from_frame": inside[0], "to_frame": inside[-1]}
            )  # fmt: skip
    return holds


def _camera(scenario: Scenario) -> str:
    return scenario.shots[0].camera


def _injected(scenario: Scenario) -> list[dict[str, object]]:
    inks = {station.number: station.ink for station in scenario.job.press.stations}
    return [
        {
            "station": injected.station,
            "ink": inks[injected.station],
            "axis": injected.axis,
            "fault": injected.fault,
            "term": type(injected.term).__name__,
            **asdict(injected.term),  # type: ignore[call-overload]
        }
        for injected in scenario.motion.injected
    ]


def _misbehaving(
    scenario: Scenario, rows: list[TruthRow]
) -> list[tuple[dict[str, object], list[dict[str, object]]]]:
    """Stations and axes whose true offset leaves the tolerance, and in which frames."""
    found = []
    views = {(row.shot.camera, row.edge) for row in rows}
    for camera, edge in sorted(views):
        for station in scenario.job.press.stations:
            own = [r for r in rows if (r.shot.camera, r.edge, r.ink) == (camera, edge, station.ink)]
            for axis in AXES:
                limit = scenario.job.tolerance_for(station.ink).of(axis)
                stretches = _stretches(own, axis, limit)
                if stretches:
                    found.append(
                        (
                            {"station": station.number, "ink": station.ink, "axis": axis,
                             "camera": camera, "edge": edge, "tolerance_mm": limit},
                            stretches,
                        )
                    )  # fmt: skip
    return found


def _stretches(rows: list[TruthRow], axis: Axis, limit: float) -> list[dict[str, object]]:
    runs: list[list[TruthRow]] = [[]]
    for row in rows:
        if abs(row.of(axis)) > limit:
            runs[-1].append(row)
        elif runs[-1]:
            runs.append([])
    return [
        {
            "from_frame": run[0].shot.name,
            "to_frame": run[-1].shot.name,
            "worst_mm": max((row.of(axis) for row in run), key=abs),
        }
        for run in runs
        if run
    ]


def _tables(name: str, tables: Iterable[dict[str, object]]) -> list[str]:
    lines = []
    for table in tables:
        lines += ["", f"[[{name}]]", *_table(table)]
    return lines


def _table(values: dict[str, object]) -> list[str]:
    # JSON's numbers, strings and booleans are TOML's too; unknown values are left out.
    return [
        f"{key} = {json.dumps(round(v, 9) if isinstance(v, float) else v, ensure_ascii=False)}"
        for key, v in values.items()
        if v is not None
    ]
