"""What the monitor would have said while the run printed, for the terminal."""

from collections.abc import Iterator, Sequence

from regscan.drift.alert import Alert
from regscan.run import Run

SHOWN = 6  # of each kind
WORTH = 0.1  # of the tolerance: smaller shifts are sure, and yet no news at the press


def alert_lines(run: Run) -> Iterator[str]:
    """Early warnings and shifts with their place, the first few of each, the rest counted."""
    warnings = [a for a in run.drift.alerts if a.kind == "early warning"]
    shifts = [a for a in run.drift.alerts if a.kind != "early warning"]
    large = [a for a in shifts if abs(a.moved_mm or 0.0) >= WORTH * _tolerance(run, a)]
    yield from _listed("Early warnings this run would have given:", warnings)
    yield from _listed("Shifts the charts would have signalled:", large)
    small = len(shifts) - len(large)
    if small:
        yield f"{small} more shifts, each below {WORTH:.0%} of its tolerance, are in run.json."


def _tolerance(run: Run, alert: Alert) -> float:
    return run.job.tolerance_for(alert.ink).of(alert.axis)


def _listed(title: str, alerts: Sequence[Alert]) -> Iterator[str]:
    if not alerts:
        return
    yield ""
    yield title
    for alert in alerts[:SHOWN]:
        yield f"  {_where(alert)}: {alert.sentence}"
    if len(alerts) > SHOWN:
        yield f"  and {len(alerts) - SHOWN} more, in run.json"


def _where(alert: Alert) -> str:
    if alert.web_m is not None:
        return f"at {alert.web_m:.0f} m"
    return f"at {alert.time_s:.0f} s" if alert.time_s is not None else alert.frame
