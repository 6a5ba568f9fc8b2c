"""Rows of a table of offsets, in the columns of offsets.csv, as a structured array.

Written anew here: the simulator shares nothing with the rooms that measure.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

# Name, type and decimals in the file; text columns are as wide as the tables need.
COLUMNS = (
    ("frame", "U24", 0),
    ("time_s", "f8", 4),
    ("web_m", "f8", 4),
    ("speed_m_min", "f8", 3),
    ("camera", "U16", 0),
    ("edge", "U16", 0),
    ("station", "i4", 0),
    ("ink", "U32", 0),
    ("status", "U8", 0),
    ("circumferential_mm", "f8", 6),
    ("lateral_mm", "f8", 6),
    ("circumferential_sd_mm", "f8", 6),
    ("lateral_sd_mm", "f8", 6),
    ("note", "U32", 0),
)
DTYPE = np.dtype([(name, kind) for name, kind, _ in COLUMNS])
MISSING_NOTE, DOUBTFUL_NOTE = "not found", "faint"


@dataclass(frozen=True)
class Sight:
    """What one camera saw of one mark set: stations x frames, in mm.

    time_s, web_m, speed_m_min   as recorded, NaN where not known.
    stations, inks               of the rows of the arrays.
    status                       stations x frames of "ok", "doubtful", "missing".
    """

    frame: Sequence[str]
    time_s: np.ndarray
    web_m: np.ndarray
    speed_m_min: np.ndarray
    camera: str
    edge: str
    stations: Sequence[int]
    inks: Sequence[str]
    status: np.ndarray
    circumferential_mm: np.ndarray
    lateral_mm: np.ndarray
    sd_mm: np.ndarray


def rows_of(sights: Sequence[Sight]) -> np.ndarray:
    """All rows, in the order of time; those of one frame in print order."""
    table = np.concatenate([_rows(sight) for sight in sights])
    moment = np.concatenate([np.repeat(s.time_s, len(s.stations)) for s in sights])
    return table[np.argsort(moment, kind="stable")]


def _rows(sight: Sight) -> np.ndarray:
    count, stations = len(sight.frame), len(sight.stations)
    rows = np.zeros(count * stations, dtype=DTYPE)
    for name, values in (
        ("frame", np.asarray(sight.frame)),
        ("time_s", sight.time_s),
        ("web_m", sight.web_m),
        ("speed_m_min", sight.speed_m_min),
    ):
        rows[name] = np.repeat(values, stations)
    rows["camera"], rows["edge"] = sight.camera, sight.edge
    rows["station"] = np.tile(sight.stations, count)
    rows["ink"] = np.tile(sight.inks, count)
    rows["status"] = status = sight.status.T.ravel()
    seen = status != "missing"
    for name, mm in (
        ("circumferential_mm", sight.circumferential_mm),
        ("lateral_mm", sight.lateral_mm),
        ("circumferential_sd_mm", sight.sd_mm),
        ("lateral_sd_mm", sight.sd_mm),
    ):
        rows[name] = np.where(seen, mm.T.ravel(), np.nan)
    rows["note"] = np.select([~seen, status == "doubtful"], [MISSING_NOTE, DOUBTFUL_NOTE], "")
    return rows


def rows_csv(rows: np.ndarray) -> str:
    """The table as text; unknown is an empty field."""
    columns = [_texts(rows[name], kind, decimals) for name, kind, decimals in COLUMNS]
    lines = [",".join(cells) for cells in zip(*columns, strict=True)]
    return "\n".join([",".join(name for name, _, _ in COLUMNS), *lines]) + "\n"


def _texts(values: np.ndarray, kind: str, decimals: int) -> list[str]:
    if kind != "f8":
        return list(map(str, values.tolist()))
    return ["" if v != v else f"{v:.{decimals}f}" for v in values.tolist()]
