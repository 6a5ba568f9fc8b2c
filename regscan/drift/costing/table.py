"""cuts.csv: what to cut out, the whole job's pieces first, then each station's."""

import csv
import io
from pathlib import Path

from regscan.drift.cost import Cost, Cut
from regscan.drift.words import lies
from regscan.wholefile import write_whole

COLUMNS = (
    "list",
    "from_m",
    "to_m",
    "metres",
    "from_frame",
    "to_frame",
    "frames",
    "station",
    "ink",
    "axis",
    "camera",
    "edge",
    "worst_mm",
    "stations",
    "words",
)


def write_cuts(path: Path, cost: Cost) -> None:
    """Write the cut list, whole or not at all. Raises BadOutput.

    list is "job" for the merged pieces and "station" for the others; metres that are not known
    are empty.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for name, cuts in (("job", cost.job_cuts), ("station", cost.cuts)):
        writer.writerows(_row(name, cut) for cut in cuts)
    write_whole(path, text.getvalue())


def _row(name: str, cut: Cut) -> list[str]:
    return [
        name,
        *(_number(value) for value in (cut.from_m, cut.to_m, cut.metres)),
        cut.from_frame,
        cut.to_frame,
        str(cut.frames),
        str(cut.station),
        cut.ink,
        cut.axis,
        cut.camera,
        cut.edge,
        f"{cut.worst_mm:.6f}",
        " ".join(str(number) for number in cut.stations),
        f"at worst {lies(cut.axis, cut.worst_mm, cut.worst_sd_mm)}",
    ]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"
