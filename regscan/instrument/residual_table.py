"""residuals.csv: every node of every frame, where it was seen and how far off the camera has it."""

import csv
import io
import math
from collections.abc import Iterator

import numpy as np

from regscan.instrument.calibration import Calibration, FrameNodes

COLUMNS = (
    "frame",
    "role",
    "line",
    "number",
    "row_px",
    "col_px",
    "row_residual_px",
    "col_residual_px",
    "used",
    "red_row_px",
    "red_col_px",
    "blue_row_px",
    "blue_col_px",
    "red_row_residual_px",
    "red_col_residual_px",
    "blue_row_residual_px",
    "blue_col_residual_px",
)


def residual_csv(calibration: Calibration) -> str:
    """The whole table as text; what a channel does not show stays empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for frame in calibration.frames:
        writer.writerows(_rows(frame))
    return text.getvalue()


def _rows(frame: FrameNodes) -> Iterator[list[str]]:
    shifts = [frame.red, frame.blue, frame.red_left, frame.blue_left]
    unknown = np.full(frame.places.shape, math.nan)
    numbers = np.column_stack([unknown if part is None else part for part in shifts])
    for k, (line, number) in enumerate(frame.nodes):
        own = [*frame.places[k], *frame.residuals[k]]
        yield [
            frame.frame,
            frame.role,
            str(int(line)),
            str(int(number)),
            *map(_cell, own),
            "yes" if frame.used[k] else "no",
            *map(_cell, numbers[k]),
        ]


def _cell(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.4f}"
