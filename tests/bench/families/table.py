"""Table: the figures of all families as markdown and JSON."""

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict

from bench.families.figures import Figures
from bench.families.judged import Judged

HEAD = (
    "family",
    "marks",
    "seen",
    "found %",
    "ok %",
    "missing",
    "misplaced",
    "**ok, wrong**",
    "rms um",
    "px",
    "p99 um",
    "ideal um",
    "x ideal",
    "+-",
    "of ok",
    "coverage %",
    "of offsets %",
    "ms",
    "x clean",
    "first",
    "plain: found %",
    "wrong",
    "rms um",
    "regscan/plain",
    "wanted",
)
LEGEND = """\
*seen*: marks whole in the frame with 60 % or more of their area to be seen; *found*, *ok*, rms
and 99th percentile are of these. *found*: a place within 50 um of the truth, sure or doubtful.
*misplaced*: doubtful, and further off. *ok, wrong*: called ok, as a mark or as an offset, and
more than 50 um off. *ideal um*: rms of the ideal fit on the same marks, *x ideal* regscan's
over it, *+-* the standard error of that, by leaving out one frame after the other, *of ok* the
same of the marks called ok. *coverage*: share of errors of ok marks (and
offsets) within 1.96 claimed sd. *ms*: median per frame, one core; *x clean* that over the time of
separated clean frames, measured in turns with these; *first* at first
sight of a picture so soft and so lit, which a camera has once: what is drawn for it is kept.
*plain*: the script of general-library calls; its rms and regscan's over it are of the marks that
both found.
"""


def markdown(lines: Sequence[Figures]) -> str:
    """The table, its legend, and what every failing line misses."""
    rows = [HEAD, tuple("---" if k in (0, len(HEAD) - 1) else "--:" for k in range(len(HEAD)))]
    rows += [_cells(line) for line in lines]
    table = "\n".join("| " + " | ".join(row) + " |" for row in rows)
    kept = sum(not line.missed for line in lines)
    return f"{table}\n\n{kept} of {len(lines)} families keep every limit.\n\n{LEGEND}"


def reasons(lines: Sequence[Figures]) -> str:
    """Per family what is missed and why marks were doubted, for who has to mend it."""
    parts = []
    for line in lines:
        told = [f"  - {count} x {why}" for why, count in list(line.reasons.items())[:8]]
        if line.missed or told:
            parts.append("\n".join([f"- {line.name}: {'; '.join(line.missed) or 'kept'}", *told]))
    return "\n".join(parts)


def as_json(lines: Sequence[Figures]) -> str:
    """The figures with null where there is none."""
    plain = [
        {
            key: None if isinstance(value, float) and math.isnan(value) else value
            for key, value in asdict(line).items()
        }
        for line in lines
    ]
    return json.dumps({"families": plain}, indent=1)


def marks_csv(done: Mapping[str, Sequence[Judged]]) -> str:
    """Every mark of every frame: what was drawn, and what was said of it. Errors in um."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_MARK_COLUMNS)
    for row in (row for frames in done.values() for frame in frames for row in frame.rows):
        size = 1000.0 * row.mm_per_px
        places = [row.regscan, row.ideal, row.plain]
        errors = [f"{size * v:.2f}" for one in places for v in (one.row_px, one.col_px)]
        sd = [f"{size * v:.2f}" for v in (row.regscan.row_sd_px, row.regscan.col_sd_px)]
        seen = [row.family, row.frame, row.ink, f"{row.visible:.2f}", int(row.whole)]
        writer.writerow([*seen, row.regscan.status, *sd, *errors, row.regscan.why])
    return text.getvalue()


_MARK_COLUMNS = (
    *("family", "frame", "ink", "visible", "whole", "status", "row_sd_um", "col_sd_um"),
    *("row_um", "col_um", "ideal_row_um", "ideal_col_um", "plain_row_um", "plain_col_um", "why"),
)


def _cells(line: Figures) -> tuple[str, ...]:
    return (
        line.name,
        str(line.marks),
        str(line.whole),
        _share(line.found, line.whole),
        _share(line.ok, line.whole),
        str(line.missing),
        str(line.misplaced),
        f"**{line.wrong}**",
        _number(line.rms_um),
        _number(line.rms_px, 4),
        _number(line.p99_um),
        _number(line.ideal_um),
        _number(line.times_ideal),
        _number(line.times_ideal_sd),
        _number(line.times_ideal_ok),
        _number(100.0 * line.coverage, 1),
        _number(100.0 * line.offset_coverage, 1),
        _number(line.ms, 0),
        _number(line.times_clean),
        _number(line.first_ms, 0),
        _share(line.plain_found, line.whole),
        str(line.plain_wrong),
        _number(line.plain_um),
        _number(line.beside_plain),
        "; ".join(line.missed) if line.missed else "kept",
    )


def _share(part: int, whole: int) -> str:
    return f"{100.0 * part / whole:.1f}" if whole else "-"


def _number(value: float, digits: int = 2) -> str:
    return "-" if math.isnan(value) else f"{value:.{digits}f}"
