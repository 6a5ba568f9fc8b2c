"""What a terminal shows: 80 columns, progress with time left, NO_COLOR; pipes stay quiet."""

import os
import pty
import re
import select
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app

COLOUR = re.compile(r"\x1b\[(?:3|4|9|10)[0-9]")  # a colour of letters or ground
LONG = "a very long name of a colour, as they are"


def in_a_terminal(*words: str, **environment: str) -> str:
    """What a command writes on a terminal of 80 columns, escapes and all."""
    ours, theirs = pty.openpty()
    env = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR", "CI")}
    env |= {"TERM": "xterm-256color", "COLUMNS": "80", **environment}
    command = [sys.executable, "-m", "regscan", *words]
    child = subprocess.Popen(command, stdout=theirs, stderr=theirs, stdin=theirs, env=env)
    os.close(theirs)
    said = b""
    while select.select([ours], [], [], 120)[0]:
        try:
            part = os.read(ours, 65536)
        except OSError:  # the other end is closed: the command is done
            break
        if not part:
            break
        said += part
    os.close(ours)
    assert child.wait(120) == 0, said
    return said.decode()


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    """A simulated table whose longest colour has a longer name than any column."""
    folder = tmp_path_factory.mktemp("terminal") / "table"
    done = CliRunner().invoke(app, ["simulate", "--table", "--frames", "66", "--out", str(folder)])
    assert done.exit_code == 0, done.output
    changes = {
        "job.toml": ("[inks.brown]", f'[inks."{LONG}"]'),
        "offsets.csv": ("brown", f'"{LONG}"'),
    }
    for name, change in changes.items():
        text = (folder / name).read_text(encoding="utf-8").replace(*change)
        (folder / name).write_text(text.replace('"brown"', f'"{LONG}"'), encoding="utf-8")
    return folder


def test_tables_and_sentences_fit_eighty_columns_and_pipes_stay_quiet(table, tmp_path):
    asked = [
        [
            "ramp",
            "--offsets",
            table / "offsets.csv",
            "--job",
            table / "job.toml",
            "--out",
            tmp_path,
        ],
        ["correct", tmp_path],
        ["gate", tmp_path],
    ]
    for words in asked:
        done = CliRunner().invoke(app, [str(word) for word in words])
        assert done.exit_code in (0, 1), done.output
        assert done.stderr == ""
        assert "\x1b" not in done.stdout
        # A path is given whole, however long, so that it can be copied.
        lines = [line for line in done.stdout.splitlines() if str(tmp_path) not in line]
        assert len(lines) > 10
        assert max(map(len, lines)) <= 80


def test_progress_shows_the_time_left_in_a_terminal(tmp_path):
    said = in_a_terminal("simulate", "--frames", "2", "--out", str(tmp_path / "a"))
    assert "Drawing frames" in said
    assert "2/2" in said
    assert re.search(r"\d:\d\d:\d\d|-:--:--", said)
    assert COLOUR.search(said)


def test_no_color_is_honoured_and_progress_stays(tmp_path):
    said = in_a_terminal("simulate", "--frames", "2", "--out", str(tmp_path / "a"), NO_COLOR="1")
    assert "Drawing frames" in said
    assert not COLOUR.search(said)


def test_a_pipe_gets_the_result_and_nothing_of_the_progress(tmp_path):
    command = [sys.executable, "-m", "regscan", "simulate", "--frames", "2", "--out"]
    done = subprocess.run([*command, str(tmp_path / "a")], capture_output=True, check=True)
    assert done.stderr == b""
    assert done.stdout.decode().splitlines() == [f"2 frames and their truth: {tmp_path / 'a'}"]
