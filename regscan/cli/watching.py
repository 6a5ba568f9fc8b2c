"""What `regscan watch` does: a desk and a follower, and a page or a table in front of them."""

import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import typer

from regscan.cli.given import Wanted, given_cameras, given_job
from regscan.cli.onlyone import only_one
from regscan.cli.results import writing_to
from regscan.cli.screen import CAUTION, say
from regscan.errors import BadJob, MissingExtra, Problem
from regscan.recording.clock import Pitch
from regscan.watch.bench import PRELOAD, Bench
from regscan.watch.desk import Desk, Jobs
from regscan.watch.follower import Follower, Workers
from regscan.watch.session import Given
from regscan.workers import Crew


def check_extra() -> None:
    """Say how to get what the page needs, before anything else is done. Raises MissingExtra."""
    try:
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
    except ImportError as missing:
        package = (missing.name or "starlette").split(".")[0]
        raise MissingExtra("The page of regscan watch", package, "watch") from None


def _hire(given: Given) -> Workers:
    return Crew(partial(Bench, given.job, given.cameras), PRELOAD)


@contextmanager
def following(
    folder: Path, wanted: Wanted, out: Path, pitch: Pitch
) -> Iterator[tuple[Desk, Follower]]:
    """A desk with a follower that is not started yet; afterwards the results are written."""
    given = _given(folder, wanted)
    jobs = Jobs(partial(_job_names, folder), partial(_open, folder, wanted))
    with writing_to(out):
        out.mkdir(parents=True, exist_ok=True)
    with only_one(out / ".regscan-watch.lock", out):
        desk = Desk(out, given, jobs, folder)
        follower = Follower(desk, folder, _hire, pitch)
        try:
            yield desk, follower
        except KeyboardInterrupt:
            pass  # the usual way to end
        finally:
            # Asked twice, it would stop in the middle of writing.
            before = signal.signal(signal.SIGINT, signal.SIG_IGN)
            follower.stop()
            kept = desk.close()
            signal.signal(signal.SIGINT, before)
    say(f"Results: {kept}")


def _given(folder: Path, wanted: Wanted) -> Given:
    job = given_job(wanted, folder)
    return Given(job, given_cameras(wanted, folder, job))


def _job_names(folder: Path) -> Sequence[str]:
    """Job files in the watched folder: what a page may choose from."""
    try:
        inside = sorted(path for path in folder.glob("*.toml") if not path.is_symlink())
        return [path.name for path in inside if b"[press]" in path.read_bytes()[:100_000]]
    except OSError:
        return []


def _open(folder: Path, wanted: Wanted, name: str) -> Given:
    path = folder / name
    if path.parent != folder or path.is_symlink():
        raise BadJob(path, Problem("", "is not in the watched folder", "put it there"))
    return _given(folder, Wanted(path, wanted.camera))


def show_page(desk: Desk, follower: Follower, host: str, port: int) -> None:
    """Serve the page until stopped."""
    from regscan.watch.serve import bind, server

    address = bind(host, port, desk.out)
    typer.echo(f"Page: {address.url}")
    say(f"Watching {follower.folder}. Stop with Ctrl-C. {CAUTION}")
    follower.start()
    server(desk, address).run(sockets=[address.sock])


def show_table(desk: Desk, follower: Follower) -> None:
    """A live table where there is a terminal, else one line per event, until stopped."""
    from rich.console import Console
    from rich.live import Live

    from regscan.cli.watch_table import event_line, watch_table

    console = Console(highlight=False)
    changed = threading.Event()
    desk.changed = changed.set
    follower.start()
    newest = 0
    if console.is_terminal:
        with Live(console=console, refresh_per_second=8) as live:
            while True:
                live.update(watch_table(desk.watched(), desk.events_after(0)))
                changed.wait(1.0)
                changed.clear()
    while True:
        for event in desk.events_after(newest):
            typer.echo(event_line(event))
            newest = event.number
        changed.wait(1.0)
        changed.clear()
