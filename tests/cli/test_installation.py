"""A broken or doubled image library is one clear message, not a traceback."""

import sys
import types

import pytest
from typer.testing import CliRunner

from regscan.cli import installation
from regscan.cli.app import app


@pytest.fixture
def empty_cv2(monkeypatch):
    """What stays when one of two OpenCV builds is uninstalled: a cv2 with nothing in it."""
    monkeypatch.setitem(sys.modules, "cv2", types.ModuleType("cv2"))


def test_an_empty_cv2_is_not_taken_for_a_working_one(empty_cv2):
    with pytest.raises(ImportError, match="empty"):
        installation.check_cv2()


def test_two_builds_that_work_are_warned_of(monkeypatch):
    monkeypatch.setattr(installation, "version", lambda name: "4.9.0")
    assert "opencv-python 4.9.0, " in installation.check_cv2()


def test_one_build_is_no_cause_for_words():
    assert installation.check_cv2() == ""


@pytest.mark.parametrize(
    "error",
    [
        ImportError("libxcb.so.1: cannot open shared object file: No such file or directory"),
        ImportError("No module named 'cv2'", name="cv2"),
    ],
)
def test_the_message_names_the_fault_and_the_cure(error):
    assert installation.speaks_of_cv2(error)
    message = installation.mended_by(error)
    assert str(error) in message
    assert "pip install" in message
    assert "opencv-python-headless" in message


def test_other_imports_keep_their_traceback():
    assert not installation.speaks_of_cv2(ImportError("No module named 'scipy'", name="scipy"))


def test_the_command_line_says_it_and_leaves_with_three(empty_cv2, small_run):
    done = CliRunner().invoke(app, ["measure", str(small_run.frames), "--out", str(small_run.out)])
    assert done.exit_code == 3
    assert "cv2 cannot be used" in done.stderr
    assert done.stdout == ""
    assert not small_run.out.exists()
