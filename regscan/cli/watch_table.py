"""A watched press as a table of 80 columns, and an event as a line."""

from collections.abc import Iterable

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from regscan.cli.screen import WIDTH
from regscan.report.words import offset_words
from regscan.watch.watched import AxisState, Event, StationState, Watched

EVENTS = 6
_STYLES = {"out of tolerance": "bold red", "in register": "bold cyan", "wait": "bold yellow"}
_SIGNS = {"in register": "o", "out of tolerance": "X", "wait": "~", "reference": "+"}


def watch_table(watched: Watched, events: Iterable[Event]) -> RenderableType:
    """The press in one word, its stations, what to do, and the newest events."""
    head = Text(f"{watched.headline.upper()}  ", _STYLES.get(watched.condition, "bold magenta"))
    head.append(watched.sentence, "default")
    table = Table(width=WIDTH, box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for name in ("Station", "", "State", "Along", "Across"):
        table.add_column(name, overflow="fold")
    for station in watched.stations:
        table.add_row(*_row(station))
    return Group(head, Text(_frames(watched), "dim"), table, *_todo(watched), *_log(events))


def _row(station: StationState) -> list[RenderableType]:
    style = _STYLES.get(station.condition, "magenta")
    sign = Text(_SIGNS.get(station.condition, "?"), style)
    name = f"{station.number} {station.ink}"
    state = Text(station.condition, style)
    along, across = (*map(_value, station.axes), "", "")[:2]
    if not station.axes:
        along = station.words
    return [name, sign, state, along, across]


def _value(axis: AxisState) -> str:
    if axis.now_mm is None:
        return axis.words
    value = offset_words(axis.axis, axis.now_mm, axis.sd_mm)
    return f"{value}; early warning" if axis.warning else value


def _frames(watched: Watched) -> str:
    counts, newest = watched.counts, watched.newest
    parts = [f"{watched.job}, {watched.press}", f"{counts.measured} frames"]
    parts += [f"{counts.queued} to measure"] if counts.queued else []
    parts += [f"web {newest.web_m:.1f} m"] if newest.web_m is not None else []
    return "; ".join([*parts, f"offsets count from {watched.zero}"])


def _todo(watched: Watched) -> list[RenderableType]:
    lines = [f"Station {w.station} {w.ink}: {w.words} (after: {w.after})" for w in watched.waits]
    lines += [
        f"Station {m.station} {m.ink}: {m.words}; then wait {m.wait_m:.1f} m" for m in watched.moves
    ]
    lines += watched.remarks
    return [Text(f"> {line}", "bold") for line in lines] or [Text("No move is advised.")]


def _log(events: Iterable[Event]) -> list[RenderableType]:
    return [Text(event_line(event), "dim") for event in list(events)[-EVENTS:]]


def event_line(event: Event) -> str:
    """Time, place, kind and words on one line."""
    place = "" if event.web_m is None else f" {event.web_m:.1f} m"
    words = " ".join(event.words.split())
    return f"{event.at[11:19]}{place} {event.kind}: {words}"
