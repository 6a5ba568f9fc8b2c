"""The columns of offsets.csv and marks.csv, declared once.

CSV headers, array types, tooltips and docs/run_table.md all come from here.
Empty text in CSV is NaN in numbers: where a value is not known its field is
empty, never zero.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Column:
    """One column: name (unit included), numpy type, meaning, decimals in CSV."""

    name: str
    dtype: str
    meaning: str
    decimals: int = 6


OFFSET_COLUMNS = (
    Column("frame", "U128", "file name of the frame"),
    Column("time_s", "f8", "when the frame was taken, s on the clock of the run"),
    Column("web_m", "f8", "web that had passed the camera at that moment, m"),
    Column("speed_m_min", "f8", "web speed at that moment, m/min"),
    Column("camera", "U64", "camera by its name in the job; empty where there is only one"),
    Column("edge", "U16", "web edge of the mark set: operator, drive, or empty"),
    Column("station", "i4", "print station, counted from the unwind", 0),
    Column("ink", "U64", "colour by its name in the job"),
    Column("status", "U8", "ok, doubtful or missing"),
    Column("circumferential_mm", "f8", "offset along the web against the reference, + is late"),
    Column("lateral_mm", "f8", "offset across the web, + is toward the drive side"),
    Column("circumferential_sd_mm", "f8", "one standard deviation of circumferential_mm"),
    Column("lateral_sd_mm", "f8", "one standard deviation of lateral_mm"),
    Column("note", "U256", "why a mark is doubtful or missing"),
)

MARK_COLUMNS = (
    Column("frame", "U128", "file name of the frame"),
    Column("camera", "U64", "camera by its name in the job; empty where there is only one"),
    Column("edge", "U16", "web edge of the mark set: operator, drive, or empty"),
    Column("ink", "U64", "colour by its name in the job"),
    Column("status", "U8", "ok, doubtful or missing"),
    Column("row_px", "f8", "centre of the mark, pixel row, top row is 0", 4),
    Column("col_px", "f8", "centre of the mark, pixel column, left column is 0", 4),
    Column("row_sd_px", "f8", "one standard deviation of row_px", 5),
    Column("col_sd_px", "f8", "one standard deviation of col_px", 5),
    Column("flags", "i4", "sum of the flag numbers in docs/flags.md; 0 is a clean mark", 0),
    Column("contrast", "f8", "ink against its surroundings, share of full scale", 4),
    Column("edge_px", "f8", "softness of the printed edge, one sigma in px", 3),
    Column("area_ratio", "f8", "inked area over the area of the design", 4),
    Column("misfit", "f8", "rms of what the fit leaves, over the contrast", 4),
    Column("edge_circumferential_um", "f8", "softness of the edge along the web, one sigma", 2),
    Column("edge_lateral_um", "f8", "softness of the edge across the web, one sigma", 2),
    Column("roundness", "f8", "spread along the web over that across it; 1 as designed", 4),
    Column("fill", "f8", "share of the mark's inside that is inked", 4),
    Column("slur_um", "f8", "smear along the web; + trails toward the unwind", 2),
)


def dtype_of(columns: tuple[Column, ...]) -> np.dtype:
    """The structured numpy type of a table with these columns."""
    return np.dtype([(c.name, c.dtype) for c in columns])
