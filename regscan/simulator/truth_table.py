"""truth.csv: the true offset and place of every mark of every frame."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from regscan.job.job import Axis
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
