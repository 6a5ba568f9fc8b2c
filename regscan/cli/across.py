"""Several cameras, both web edges and round the repeat, for the terminal."""

from collections.abc import Iterator

from rich.table import Table

from regscan.cli.tables import plain_table
from regscan.drift.across import EdgeLevel, EdgePair, Figure, RoundRepeat
from regscan.drift.drift import Disagreement, Drift
from regscan.run import Run

SIGNIFICANT = "differ by more than their doubt: calibration, or the web after printing"
EDGES_TELL = "a cylinder across the press shows at both web edges only"


def edges_tables(run: Run) -> Iterator[Table]:
    """One table, a line per colour seen at both web edges; none where there is no such colour."""
    seen = [(pair, pair.settled) for pair in run.drift.edges if pair.settled]
    if not seen:
        return
    table = plain_table("Both web edges: shift of the middle, skew, width")
    table.caption = _caption([pair for pair, _ in seen])
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Shift late mm ±sd", justify="right", no_wrap=True)
    table.add_column("to drive mm ±sd", justify="right", no_wrap=True)
    table.add_column("Skew mrad ±sd", justify="right", no_wrap=True)
    table.add_column("Wider mm ±sd", justify="right", no_wrap=True)
    for pair, level in seen:
        name = f"{pair.ink} ({pair.camera})" if pair.camera else pair.ink
        table.add_row(str(pair.station), name, *(_figure(one) for one in _numbers(level)))
    yield table


def _numbers(level: EdgeLevel) -> tuple[Figure, ...]:
    return level.md_shift_mm, level.cd_shift_mm, level.skew_mrad, level.width_mm


def _caption(pairs: list[EdgePair]) -> str:
    spacings = dict.fromkeys((pair.spacing_mm, pair.spacing_from) for pair in pairs)
    said = "; ".join(f"{mm:g} mm between the edges' marks, {whence}" for mm, whence in spacings)
    return f"Skew + has the drive side late. {said}."


def _figure(figure: Figure) -> str:
    doubt = "?" if figure.sd is None else f"{figure.sd:.3f}"
    size = f"{figure.value:+.3f}"
    return f"{size if float(size) else size[1:]} ±{doubt}"


def across_lines(drift: Drift) -> Iterator[str]:
    """Cameras that were compared; plate, cylinder and run-out where the marks can tell."""
    yield from _compared(drift.disagreements)
    alike: dict[str, list[str]] = {}
    for one in drift.round_repeat:
        edge = f"{one.edge} edge" if one.edge in ("operator", "drive") else ""
        where = ", ".join(part for part in (one.camera, edge) if part)
        name = f"{one.ink} ({where})" if where else one.ink
        alike.setdefault(_calm(one) or one.words, []).append(name)
    for words, inks in alike.items():
        yield f"Plate and cylinder, {', '.join(inks)}: {words}"


def _calm(one: RoundRepeat) -> str:
    """For a colour of which nothing was found, words without its own bounds; else ""."""
    if one.run_out_mm is None or one.run_out_found:
        return ""
    if one.answer == "neither":
        return "nothing turned, no run-out found."
    if one.answer == "cannot be told" and one.shear_mrad is None:
        return f"no turned plate, no run-out found; {EDGES_TELL}."
    return ""


def _compared(found: tuple[Disagreement, ...]) -> Iterator[str]:
    """Every pair that disagrees, and how many agree."""
    for one in found:
        if one.significant:
            doubt = "" if one.sd_mm is None else f" ±{one.sd_mm:.3f}"
            yield (
                f"Cameras {one.camera} and {one.other_camera}, {one.ink}, {one.axis}:"
                f" {one.difference_mm:+.3f}{doubt} mm apart; they {SIGNIFICANT}"
            )
    same = sum(not one.significant for one in found)
    if same:
        yield f"Cameras compared: {same} of {len(found)} show no difference that counts"
