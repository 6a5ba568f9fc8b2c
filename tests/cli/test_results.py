"""The results folder: together and whole, or not at all."""

import os
from pathlib import Path

import pytest

from regscan.cli.results import NAMES, default_out, new_results
from regscan.errors import BadOutput


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_results_appear_together(tmp_path):
    out = tmp_path / "a" / "b"
    with new_results(out) as draft:
        (draft / "run.json").write_text("{}")
        (draft / "overlays").mkdir()
        (draft / "overlays" / "one.png").write_text("")
        assert not (out / "run.json").exists()
    assert names_in(out) == ["overlays", "run.json"]
    assert names_in(out / "overlays") == ["one.png"]


def write_and_fail(out: Path, error: type[BaseException]) -> None:
    with new_results(out) as draft:
        (draft / "run.json").write_text("new")
        raise error


def test_an_error_leaves_no_trace(tmp_path):
    with pytest.raises(ZeroDivisionError):
        write_and_fail(tmp_path / "a" / "b", ZeroDivisionError)
    assert names_in(tmp_path) == []


def test_an_error_leaves_older_results_as_they_were(tmp_path):
    (tmp_path / "run.json").write_text("old")
    with pytest.raises(KeyboardInterrupt):
        write_and_fail(tmp_path, KeyboardInterrupt)
    assert names_in(tmp_path) == ["run.json"]
    assert (tmp_path / "run.json").read_text() == "old"


def test_older_results_go_and_other_files_stay(tmp_path):
    for name in NAMES:
        if name == "overlays":
            (tmp_path / name).mkdir()
        else:
            (tmp_path / name).write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    with new_results(tmp_path) as draft:
        (draft / "run.json").write_text("new")
    assert names_in(tmp_path) == ["notes.txt", "run.json"]
    assert (tmp_path / "run.json").read_text() == "new"


@pytest.mark.parametrize("below", ["", "deeper"])
def test_a_place_that_cannot_be_written_is_refused_before_work(tmp_path, below):
    file = tmp_path / "file.txt"
    file.write_text("not a folder")
    with pytest.raises(BadOutput, match="cannot be written"), new_results(file / below):
        pytest.fail("work began")
    assert file.read_text() == "not a folder"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_permission_is_refused(tmp_path):
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    with pytest.raises(BadOutput, match="permission denied"), new_results(locked):
        pytest.fail("work began")


def test_the_default_folder_is_named_after_the_frames(tmp_path):
    monday = tmp_path / "monday"
    monday.mkdir()
    (monday / "one.png").write_text("")
    (monday / "two.png").write_text("")
    assert default_out([monday]) == Path("regscan-out/monday")
    assert default_out([monday / "one.png"]) == Path("regscan-out/one")
    assert default_out([monday / "one.png", monday / "two.png"]) == Path("regscan-out/monday")
    assert default_out([monday / "*.png"]) == Path("regscan-out/monday")
    assert default_out([monday / "offsets.csv"]) == Path("regscan-out/monday-table")
