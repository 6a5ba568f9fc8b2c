"""regscan calibrate through the command line: files whole or not at all, words, exit codes."""

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
from regscan.camera.read import read_camera
from regscan.cli.app import app
from regscan.simulator.draw import draw_frame
from regscan.simulator.example import given
from regscan.simulator.look import Look, Sensor, Shot
from regscan.simulator.target import Target
from tests.instrument.drawn_grids import MONO, SMALL, draw, save

DOTS = Target(0.45, 9, 11, dot_mm=0.22)
TRUE = Camera(0.012, 0.012, lens=Lens(*SMALL, (119.5, 159.5), radial_px=(1.5,)))
FILES = ["camera.toml", "residuals.csv", "residuals.svg"]


def regscan(*words):
    return CliRunner().invoke(app, ["calibrate", *map(str, words)])


@pytest.fixture(scope="module")
def grids(tmp_path_factory):
    """A folder of three frames of one grid."""
    folder = tmp_path_factory.mktemp("frames")
    for k in range(3):
        target = replace(DOTS, turn_deg=2.0 * k)
        draw(folder, f"{k}.png", target, camera=TRUE, look=MONO, size=SMALL, seed=k)
    return folder


def test_a_folder_of_frames_becomes_a_camera(grids, tmp_path):
    done = regscan(grids / "0.png", grids / "1.png", "--pitch-mm", 0.45, "--dot-mm", 0.22,
                   "--check", grids / "2.png", "--out", tmp_path / "out")  # fmt: skip
    assert done.exit_code == 0, done.output
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == FILES
    camera = read_camera(tmp_path / "out" / "camera.toml")
    assert camera.mm_per_px == pytest.approx(0.012, rel=1e-4)
    assert (camera.lens.rows_px, camera.lens.cols_px) == SMALL
    for words in ("mm per px, rows", "Residual: 0.0", "Check 2.png: 0.0", "check the direction"):
        assert words in done.output


def test_the_folders_own_camera_file_is_the_one_so_far(grids, tmp_path):
    own = tmp_path / "mine"
    own.mkdir()
    (own / "0.png").write_bytes((grids / "0.png").read_bytes())
    (own / "camera.toml").write_text(
        'format = 1\nname = "end"\nmm_per_px = 0.012\nweb_travel = "down"\ndrive_side = "left"\n'
    )
    done = regscan(own, "--pitch-mm", 0.45, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    camera = read_camera(tmp_path / "out" / "camera.toml")
    assert (camera.name, camera.web_travel, camera.drive_side) == ("end", "down", "left")
    assert "no camera file was given" not in done.output


def test_a_refusal_writes_nothing_and_keeps_what_was_there(grids, tmp_path):
    out = tmp_path / "out"
    assert regscan(grids / "0.png", "--pitch-mm", 0.45, "--out", out).exit_code == 0
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    (tmp_path / "camera.toml").write_text(
        'format = 1\nmm_per_px = 0.03\nweb_travel = "up"\ndrive_side = "right"\n'
    )
    refused = regscan(grids / "0.png", "--pitch-mm", 0.45, "--out", out, "--camera",
                      tmp_path / "camera.toml")  # fmt: skip
    assert refused.exit_code == 3
    assert "--pitch-mm: nodes lie" in refused.output
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before
    assert regscan(grids / "0.png", "--pitch-mm", 0.9, "--dot-mm", 0.22, "--out",
                   tmp_path / "new").exit_code == 3  # fmt: skip
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--pitch-mm", "0.5"],
        ["FRAMES"],
        ["FRAMES", "--pitch-mm", "nan"],
        ["FRAMES", "--pitch-mm", "0"],
        ["FRAMES", "--pitch-mm", "-1"],
        ["FRAMES", "--pitch-mm", "0.5", "--dot-mm", "0.6"],
        ["FRAMES", "--pitch-mm", "0.5", "--grid", "rings"],
        ["FRAMES", "--pitch-mm", "0.5", "--turn-sd-deg", "-1"],
        ["--direction", "FRAMES", "FRAMES"],
        ["--direction", "FRAMES", "FRAMES", "--ink", "cyan"],
        ["FRAMES", "--direction", "FRAMES", "FRAMES", "--ink", "cyan", "--moved", "advance 0.1"],
    ],
)
def test_wrong_usage(words, grids):
    done = regscan(*(str(grids) if word == "FRAMES" else word for word in words))
    assert done.exit_code == 2


def test_no_frames_at_all(tmp_path):
    done = regscan(tmp_path, "--pitch-mm", 0.5)
    assert done.exit_code == 3
    assert str(tmp_path) in done.output


@pytest.fixture(scope="module")
def step(tmp_path_factory):
    """before, after: cyan advanced by 0.10 mm; job.toml beside them."""
    folder, files = tmp_path_factory.mktemp("step"), given()
    for name, offsets in (("before", {}), ("after", {"cyan": (-0.1, 0.0)})):
        (folder / name).mkdir()
        for k in range(2):
            shot = Shot(480, 640, seed=k)
            look = Look(sensor=Sensor(noise_grey=1.0))
            frame, _ = draw_frame(files.job, files.camera, offsets, look, shot)
            save(folder / name, f"{k}.png", frame.pixels)
    (folder / "job.toml").write_text(files.job_text)
    return folder


def camera_file(folder, travel="up"):
    path = folder / "camera.toml"
    text = f'format = 1\nmm_per_px = 0.012\nweb_travel = "{travel}"\ndrive_side = "right"\n'
    path.write_text("# mine\n" + text)
    return path


def direction(step, camera, *more):
    return regscan("--direction", step / "before", step / "after", "--job", step / "job.toml",
                   "--camera", camera, "--ink", "cyan", *more)  # fmt: skip


def test_a_proven_direction_is_stored_in_the_camera_file(step, tmp_path):
    path = camera_file(tmp_path)
    done = direction(step, path, "--moved", "advance 0.10")
    assert done.exit_code == 0, done.output
    assert "The lateral direction is still to be checked" in done.output
    check = read_camera(path).direction
    assert check.ink == "cyan"
    assert check.circumferential_seen_mm == pytest.approx(-0.1, abs=0.001)
    assert path.read_text().startswith("# mine\n")


def test_or_in_another_folder(step, tmp_path):
    path = camera_file(tmp_path)
    before = path.read_text()
    out = tmp_path / "out"
    assert direction(step, path, "--moved", "advance 0.10", "--out", out).exit_code == 0
    assert path.read_text() == before
    assert read_camera(out / "camera.toml").direction is not None


def test_a_wrong_camera_file_is_left_as_it_was(step, tmp_path):
    path = camera_file(tmp_path, "down")
    before = path.read_text()
    done = direction(step, path, "--moved", "advance 0.10")
    assert done.exit_code == 3
    assert "web_travel = 'up'" in done.output
    assert path.read_text() == before


@pytest.mark.parametrize("moved", ["up 0.1", "advance", "advance 0"])
def test_a_move_that_is_none(step, tmp_path, moved):
    assert direction(step, camera_file(tmp_path), "--moved", moved).exit_code == 2


def test_an_ink_that_is_not_in_the_job(step, tmp_path):
    done = direction(step, camera_file(tmp_path), "--moved", "advance 0.1", "--ink", "cyn")
    assert done.exit_code == 2
    assert "the job has" in done.output


def test_measure_notes_an_unproven_direction_and_a_proven_one_is_silent(step, tmp_path):
    path = camera_file(tmp_path)
    words = [str(step / "before"), "--job", str(step / "job.toml"), "--camera", str(path)]
    first = CliRunner().invoke(app, ["measure", *words, "--out", str(tmp_path / "one")])
    assert first.exit_code == 0, first.output
    assert "was never checked with a known step" in " ".join(first.output.split())
    assert direction(step, path, "--moved", "advance 0.10").exit_code == 0
    second = CliRunner().invoke(app, ["measure", *words, "--out", str(tmp_path / "two")])
    assert "was never checked" not in " ".join(second.output.split())


def test_frames_of_another_size_than_calibrated_are_set_aside(grids, step, tmp_path):
    """The camera was calibrated at 320 x 240, the frames are 640 x 480."""
    out = tmp_path / "out"
    assert regscan(grids / "0.png", "--pitch-mm", 0.45, "--out", out).exit_code == 0
    words = ["measure", str(step / "before"), "--job", str(step / "job.toml")]
    done = CliRunner().invoke(app, [*words, "--camera", str(out / "camera.toml")])
    assert done.exit_code == 3
    assert "is 640 x 480 pixels, and the camera was calibrated with 320 x 240" in done.output
