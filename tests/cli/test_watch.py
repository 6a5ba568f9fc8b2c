"""regscan watch from the command line: its table, its lines when piped, how it ends."""

import builtins
import os
import signal
import subprocess
import sys
from io import StringIO

import pytest
from rich.console import Console
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.cli.watch_table import event_line, watch_table
from regscan.run import load_run
from regscan.watch.telling import Around, tell
from tests.watch.drawn_press import DrawnPress
from tests.watch.records import JOB, feed, session_in
from tests.watch.test_session import move

WATCH = [sys.executable, "-m", "regscan", "watch"]


@pytest.fixture
def press(tmp_path):
    return DrawnPress(tmp_path / "frames")


def begun(*arguments):
    return subprocess.Popen(
        [*WATCH, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )


def test_piped_it_prints_one_line_per_event_and_ends_with_results(press, tmp_path):
    press.drop(6, cyan=(0.16, 0.0))
    running = begun(press.folder, "--no-page", "--out", tmp_path / "out")
    first, second = running.stdout.readline(), running.stdout.readline()
    assert "started: Watching with job" in first
    assert "left tolerance: Station 3 cyan: out of tolerance" in second
    assert "\x1b" not in first + second
    running.send_signal(signal.SIGINT)
    rest, said = running.communicate(timeout=120)
    assert running.returncode == 0, said
    assert "Traceback" not in said
    assert rest == ""
    folder = tmp_path / "out" / "job-0001"
    assert f"Results: {folder}" in said
    assert load_run(folder / "run.json").verdict.answer in ("out of tolerance", "cannot be decided")


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_the_page_is_announced_and_stopped(press, tmp_path, stop):
    running = begun(press.folder, "--port", 0, "--out", tmp_path / "out")
    assert running.stdout.readline().startswith("Page: http://127.0.0.1:")
    running.send_signal(stop)
    _, said = running.communicate(timeout=120)
    assert running.returncode == (0 if stop == signal.SIGINT else 128 + signal.SIGTERM), said
    assert "Traceback" not in said


def test_only_one_watch_writes_into_a_folder(press, tmp_path):
    running = begun(press.folder, "--port", 0, "--out", tmp_path / "out")
    running.stdout.readline()
    try:
        done = CliRunner().invoke(
            app, ["watch", str(press.folder), "--port", "0", "--out", str(tmp_path / "out")]
        )
        assert done.exit_code == 3
        assert "another regscan is writing into it" in done.output
    finally:
        running.send_signal(signal.SIGINT)
        running.communicate(timeout=120)


def test_without_the_extra_it_says_how_to_get_it(press, monkeypatch):
    real = builtins.__import__

    def lacking(name, *more):
        if name == "starlette":
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return real(name, *more)

    monkeypatch.setattr(builtins, "__import__", lacking)
    done = CliRunner().invoke(app, ["watch", str(press.folder)])
    assert done.exit_code == 3
    assert 'pip install "regscan-press[watch]"' in done.output


@pytest.mark.parametrize("given", [["--every-m", "0"], ["--port", "0", "--listen", "192.0.2.1"]])
def test_what_cannot_be_is_refused_in_words(press, tmp_path, given):
    done = CliRunner().invoke(
        app, ["watch", str(press.folder), *given, "--out", str(tmp_path / "o")]
    )
    assert done.exit_code == 3
    assert "->" in done.output


def printed(renderable, **how):
    console = Console(file=StringIO(), width=80, **how)
    console.print(renderable)
    return console.file.getvalue()


@pytest.fixture
def session(tmp_path):
    session = session_in(tmp_path)
    feed(session, 1, 14, {"cyan": (0.16, 0.0), "green": (0.0, -0.15)}, lost=("magenta",))
    move(session)
    return session


def test_the_table_tells_state_moves_and_waits_in_80_columns(session):
    text = printed(watch_table(tell(session, Around(1, 0, 0.5, (0, ""), ())), session.log.newest))
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith("OUT OF TOLERANCE")
    for words in ("3 cyan", "wait", "not found", "reference", "5 green", "move made"):
        assert words in text
    assert "move 0.15 mm toward drive side; then wait" in " ".join(text.split())
    for station in JOB.press.stations:
        assert f"{station.number} {station.ink}" in text


def test_without_colour_nothing_is_lost(session, monkeypatch):
    watched = tell(session, Around(1, 0, 0.5, (0, ""), ()))
    plain = printed(watch_table(watched, ()), no_color=True, force_terminal=True)
    assert "\x1b[3" not in plain  # no colour, though it may be bold
    assert "out of tolerance" in plain


def test_an_event_is_one_line(session):
    for event in session.log.newest:
        assert "\n" not in event_line(event)
