"""The rows of one scene as markdown, and what they say about the limits."""

from bench.locating.rows import OURS, Row
from bench.locating.scene import Scene

RATIO, BIAS_PX, PULL = 1.15, 0.003, (0.85, 1.15)


def table_of(scene: Scene, rows: list[Row]) -> str:
    """Markdown."""
    bound = rows[0].rms_px / rows[0].ratio
    lines = [
        f"\n**{scene.title}**; bound {bound:.4f} px\n",
        "| method | trials | rms px | bias px | rms / bound | pull | ms |",
        "|---|---|---|---|---|---|---|",
    ]
    for row in sorted(rows, key=lambda r: r.rms_px):
        pull = "" if row.pull_spread is None else f"{row.pull_spread:.2f}"
        lines.append(
            f"| {row.method} | {row.trials} | {row.rms_px:.4f} | {row.bias_px:.4f} "
            f"| {row.ratio:.2f} | {pull} | {row.ms:.2f} |"
        )
    return "\n".join(lines)


def missed(scene: Scene, rows: list[Row]) -> list[str]:
    """Limits that regscan did not keep in this scene.

    Rows without noise are judged by bias alone: rounding is then the same in every draw,
    and neither bound nor claimed doubt means anything.
    """
    mine = next(row for row in rows if row.method == OURS)
    said = [] if mine.bias_px < BIAS_PX else [f"bias {mine.bias_px:.4f} px"]
    if not scene.look.noise:
        return said
    if mine.ratio > RATIO:
        said.append(f"{mine.ratio:.3f} x the bound")
    if not PULL[0] <= (mine.pull_spread or 0.0) <= PULL[1]:
        said.append(f"pull {mine.pull_spread:.3f}")
    return said + [f"behind {row.method}" for row in rows if _clearly_better(row, mine)]


def _clearly_better(other: Row, mine: Row) -> bool:
    """An rms of N values has a relative sd of 1/sqrt(2 N); two axes a trial. Within two of
    the difference's sd it is a draw."""
    doubt = (1 / (4 * other.trials) + 1 / (4 * mine.trials)) ** 0.5
    return other.rms_px < mine.rms_px * (1 - 2 * doubt)
