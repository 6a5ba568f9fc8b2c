"""A run as tables and sentences for the terminal; 80 columns wide, never colour alone."""

from collections.abc import Iterator

from rich.box import SIMPLE_HEAD
from rich.table import Table

from regscan.drift.drift import Level, Track
from regscan.job.job import Axis
from regscan.run import Run

# + and - of each axis, as a press hand says it (docs/conventions.md).
WORDS: dict[Axis, tuple[str, str]] = {
    "circumferential": ("late", "early"),
    "lateral": ("to drive", "to oper."),
}


def offsets_table(run: Run) -> Table:
    """One line per colour (and camera, and web edge): its settled offset on both axes."""
    table = plain_table(f"{run.job.name} on {run.job.press.name}, against {run.job.reference}")
    table.caption = f"Zero: {run.job.zero_words}."
    places = any(track.camera or track.edge for track in run.drift.tracks)
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    if places:
        table.add_column("Seen by", overflow="fold")
    table.add_column("Circumf. mm ±sd", justify="right", no_wrap=True)
    table.add_column("Lateral mm ±sd", justify="right", no_wrap=True)
    table.add_column("Good", justify="right")
    table.add_column("")
    for circumferential, lateral in _pairs(run):
        seen_by = [f"{circumferential.camera} {circumferential.edge}".strip()] if places else []
        table.add_row(
            str(circumferential.station),
            circumferential.ink,
            *seen_by,
            level_text(circumferential.settled, "circumferential"),
            level_text(lateral.settled, "lateral"),
            _good_frames(circumferential),
            "FLAG" if circumferential.flagged or lateral.flagged else "",
        )
    return table


def level_text(level: Level | None, axis: Axis) -> str:
    """A level as word, size and doubt: "late 0.120 ±0.004"; "-" when there is none."""
    if level is None:
        return "-"
    size = f"{abs(level.mean_mm):.3f}"
    word = "" if float(size) == 0 else WORDS[axis][level.mean_mm < 0] + " "
    return f"{word}{size} {_doubt(level.sd_mm)}"


def remarks(run: Run) -> list[str]:
    """What needs saying beside the numbers: flags, unseen inks, skipped frames, notes."""
    lines = [
        f"Station {track.station} {track.ink}, {track.axis}: {reason}"
        for track in run.drift.tracks
        if track.flagged
        for reason in track.reasons
    ]
    lines += [f"{ink}: not measurable, leaves no visible mark" for ink in run.job.unmeasurable_inks]
    skipped = run.inputs.skipped
    if skipped:
        lines.append(f"{len(skipped)} of {run.inputs.frames_found} frames could not be used:")
        lines += [f"  {one.frame}: {one.why}" for one in skipped[:5]]
        lines += [f"  and {len(skipped) - 5} more, in run.json"] if len(skipped) > 5 else []
    return [*lines, *run.inputs.notes, *run.drift.notes]


def corrections_table(run: Run, title: str) -> Table:
    """One line per station and axis: what to do, in words, and what will remain."""
    table = plain_table(f"Moves for {run.job.name} on {run.job.press.name}. {title}")
    table.caption = f"Zero: {run.job.zero_words}."
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Axis", no_wrap=True)
    table.add_column("Move", overflow="fold")
    table.add_column("Steps", justify="right")
    table.add_column("Remains mm ±sd", justify="right", no_wrap=True)
    for one in run.corrections:
        steps = f"{one.steps:+d}" if one.steps else ""
        remains = _offset(one.remaining_mm, one.sd_mm)
        table.add_row(str(one.station), one.ink, one.axis, one.words, steps, remains)
    return table


def verdict_table(run: Run) -> Table:
    """One line per case of the gate: offset, tolerance, probability, answer."""
    table = plain_table(f"Gate for {run.job.name} on {run.job.press.name}")
    table.caption = f"Rule: {run.verdict.rule}. ±sd allows for few frames."
    table.add_column("St", justify="right")
    table.add_column("Ink", overflow="fold")
    table.add_column("Axis", no_wrap=True)
    table.add_column("Settled mm ±sd", justify="right", no_wrap=True)
    table.add_column("Limit", justify="right")
    table.add_column("P(in)", justify="right")
    table.add_column("Answer", overflow="fold")
    for case in run.verdict.cases:
        table.add_row(
            str(case.station),
            case.ink,
            case.axis,
            _offset(case.offset_mm, case.sd_mm),
            f"{case.tolerance_mm:.3f}",
            "-" if case.probability is None else f"{case.probability:.1%}",
            case.answer,
        )
    return table


def plain_table(title: str) -> Table:
    """An empty table in the one style of all commands."""
    return Table(
        title=title,
        title_justify="left",
        title_style="bold",
        caption_justify="left",
        box=SIMPLE_HEAD,
        padding=(0, 1, 0, 0),
        pad_edge=False,
    )


def _doubt(sd_mm: float | None) -> str:
    return "±?" if sd_mm is None else f"±{sd_mm:.3f}"


def _offset(value_mm: float | None, sd_mm: float | None) -> str:
    return "-" if value_mm is None else f"{value_mm:+.3f} {_doubt(sd_mm)}"


def _good_frames(track: Track) -> str:
    return f"{track.frames_ok}/{track.frames_ok + track.frames_doubtful + track.frames_missing}"


def _pairs(run: Run) -> Iterator[tuple[Track, Track]]:
    """The two axes of every colour as each camera and edge saw it, in the run's order."""
    both: dict[tuple[int, str, str, str], dict[Axis, Track]] = {}
    for track in run.drift.tracks:
        key = track.station, track.ink, track.camera, track.edge
        both.setdefault(key, {})[track.axis] = track
    for axes in both.values():
        yield axes["circumferential"], axes["lateral"]
