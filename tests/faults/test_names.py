"""Names of any letters and any length, from the frames' files to the results folder."""

import json
import os
import shutil
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.offsets.table import read_offsets
from regscan.run import load_run

LONG = "é" * 120 + ".png"  # 244 bytes; a file system takes 255
NAMES = {
    "letters": "Rolle ß 卷筒 רול 📷 7.png",
    "marks": "a,b;\"c\"'d'=e&<f>|`$%#~.png",
    "line ends": "first\nsecond\rthird\ttab.png",
    "control": "bell\a escape\x1b[31m.png",
    "long": LONG,
    "leading blank": " 7.png",
    "dash": "-out.png",
    "composed and not": "e\u0301.png",
}
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="other systems refuse such names")


def frames(tiny_run, folder, *names):
    folder.mkdir(parents=True)
    for name in ("job.toml", "camera.toml"):
        shutil.copy(tiny_run / name, folder)
    for name in names:
        shutil.copy(tiny_run / "000000.png", os.path.join(os.fsencode(folder), name))
    return folder


def invoked(*args):
    done = CliRunner().invoke(app, list(map(str, args)))
    assert "Traceback" not in done.output
    return done


def test_frames_of_any_name(tiny_run, tmp_path):
    run = frames(tiny_run, tmp_path / "run", *map(os.fsencode, NAMES.values()))
    out = tmp_path / "out"
    done = invoked("ramp", run, "--out", out, "--json")
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["inputs"]["frames_used"] == len(NAMES)
    found = dict.fromkeys(read_offsets(out / "offsets.csv")["frame"].tolist())
    assert len(found) == len(NAMES)
    for kind, name in NAMES.items():
        assert name.replace("\r", " ").strip() in found, kind
    for command in ("gate", "report", "correct"):
        assert invoked(command, out).exit_code in (0, 1, 4)


def test_a_name_that_is_no_text_at_all(tiny_run, tmp_path):
    run = frames(tiny_run, tmp_path / "run", b"\xff\xfe7.png", b"\xff\xfd7.png")
    out = tmp_path / "out"
    done = invoked("measure", run, "--out", out)
    assert done.exit_code == 0, done.stderr
    found = dict.fromkeys(read_offsets(out / "offsets.csv")["frame"].tolist())
    assert list(found) == ["\\udcff\\udcfd7.png", "\\udcff\\udcfe7.png"]


@pytest.mark.parametrize("folder", ["日本 run", "x" * 255, "a\nb"])
def test_a_results_folder_of_any_name(tiny_run, tmp_path, folder):
    run = frames(tiny_run, tmp_path / "run", b"1.png")
    done = invoked("measure", run, "--out", tmp_path / folder)
    assert done.exit_code == 0, done.stderr
    assert (tmp_path / folder / "run.json").exists()


def test_folders_whose_names_are_no_text(tiny_run, driver, tmp_path):
    run, out = tmp_path / os.fsdecode(b"\xff"), tmp_path / os.fsdecode(b"\xfe")
    frames(tiny_run, run, b"1.png")
    for command in (["measure", run, "--out", out], ["gate", out, "--json"], ["report", out]):
        assert driver.run(command).code in (0, 1, 4), driver.log.read_text()
    assert (out / "run.json").read_text(encoding="utf-8")
    assert load_run(out / "run.json").inputs.frames_folder == str(run)


@pytest.mark.parametrize("folder", ["x" * 256, "y/" * 2100])
def test_a_results_folder_no_file_system_takes_is_refused(tiny_run, tmp_path, folder):
    run = frames(tiny_run, tmp_path / "run", b"1.png")
    done = invoked("measure", run, "--out", f"{tmp_path}/{folder}")
    assert done.exit_code == 3
    assert "cannot be written" in done.stderr
    assert " -> " in done.stderr


@pytest.mark.parametrize("option", ["", "--job", "--camera"])
@pytest.mark.parametrize("name", ["x" * 300, "y/" * 2100])
def test_an_input_no_file_system_takes_is_refused(tiny_run, tmp_path, option, name):
    run = frames(tiny_run, tmp_path / "run", b"1.png")
    given = [option, name] if option else [name]
    done = invoked("measure", *([run] if option else []), *given, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert " -> " in done.stderr


def test_a_deep_folder(tiny_run, tmp_path):
    deep = Path(tmp_path, *["d" * 100] * 30)
    run = frames(tiny_run, tmp_path / "run", b"1.png")
    done = invoked("measure", run, "--out", deep)
    assert done.exit_code == 0, done.stderr
