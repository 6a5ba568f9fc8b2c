"""Why the print moved, as lines for people: sentence, cause, first check, what would decide."""

from collections.abc import Iterator

from regscan.drift.cause import Cause
from regscan.run import Run


def why_lines(run: Run) -> list[str]:
    """What moved and why, the largest first; what could not be told; nothing for still frames."""
    behaviours = run.drift.behaviours
    if behaviours is None:
        return []
    lines = ["", "What moved, and why:"]
    for cause in run.drift.causes:
        lines += list(_of(cause))
    if not behaviours.stations:
        lines.append("Nothing was looked for, see below.")
    elif not run.drift.causes:
        lines.append("Nothing moved beyond the run's own noise.")
    if behaviours.untold:
        lines += ["", "What this run cannot tell:", *behaviours.untold]
    lines += [f"Reduced: {sentence}." for sentence in behaviours.reduced]
    return lines


def _of(cause: Cause) -> Iterator[str]:
    yield f"- {cause.sentence}"
    other = cause.runner_up
    second = f"; else {other.title}" if other else ""
    yield f"  Likely cause: {cause.title}{second}. First check: {cause.first_check}"
    if other:
        yield f"  To decide: {cause.deciding}."
