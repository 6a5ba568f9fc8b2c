"""The names other people's scripts may lean on, and how little importing regscan costs."""

import subprocess
import sys

import pytest

import regscan

PINNED = {
    "BadInput",
    "Camera",
    "Frame",
    "Job",
    "Mark",
    "MarkFinder",
    "Offset",
    "RegscanError",
    "Run",
    "Task",
    "decide",
    "describe_run",
    "explain_run",
    "inputs_of",
    "judge_run",
    "load_run",
    "measure_frames",
    "measure_offsets",
    "open_recording",
    "propose_moves",
    "read_camera",
    "read_frame",
    "read_job",
    "read_offsets",
    "read_speed_log",
    "save_results",
    "write_report",
}
HEAVY = {"numpy", "cv2", "scipy", "skimage", "pydantic", "jinja2", "rich", "typer"}


def loaded_after(statement: str) -> set[str]:
    code = f"import sys\n{statement}\nprint(*{{name.partition('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_the_public_names_are_these():
    assert set(regscan.PUBLIC) == PINNED
    assert set(dir(regscan)) >= PINNED


@pytest.mark.parametrize("name", sorted(PINNED))
def test_every_public_name_is_there_and_documented(name):
    assert getattr(regscan, name).__doc__


def test_an_unknown_name_is_refused_with_the_known_ones():
    with pytest.raises(AttributeError, match=r"public names: .*read_job"):
        _ = regscan.no_such_name


def test_importing_regscan_loads_nothing_heavy():
    assert loaded_after("import regscan") & HEAVY == set()


def test_building_the_command_line_loads_typer_only():
    assert loaded_after("import regscan.cli.app") & HEAVY <= {"typer"}


def test_a_mistake_in_the_job_is_told_before_numpy_is_loaded(tmp_path):
    (tmp_path / "job.toml").write_text("format = 1\n")
    call = f"app(['measure', {str(tmp_path)!r}], standalone_mode=False)"
    loaded = loaded_after(f"from regscan.cli.app import app\ntry: {call}\nexcept BaseException: 0")
    assert loaded & HEAVY == {"typer", "pydantic"}
