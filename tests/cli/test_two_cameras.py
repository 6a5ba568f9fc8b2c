"""Two cameras with camera files of their own, from frames to the terminal, run.json and page."""

import json
import shutil
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from regscan.camera.camera import Camera
from regscan.camera.read import write_camera
from regscan.cli.app import app
from regscan.job.job import CameraPost
from regscan.offsets.table import read_offsets
from regscan.simulator.draw import draw_frame
from regscan.simulator.job_text import job_toml
from regscan.simulator.look import Look, Sensor, Shot
from regscan.simulator.write import encode
from tests.marks.conftest import six_colours

QUIET = Look(sensor=Sensor(noise_grey=1.5))
OFFSETS = {"cyan": (0.05, -0.03), "magenta": (-0.04, 0.02)}
CAMERAS = {
    "one": Camera(0.012, 0.012),
    "two": Camera(0.015, 0.015, web_travel="down", drive_side="left", rotation_deg=1.5),
}
FRAMES = 5


def make_folder(folder, job, truth):
    """FRAMES frames of each camera with its file; truth: offsets by camera."""
    folder.mkdir()
    rows = ["frame,time_s,web_m,speed_m_min,camera"]
    for name, camera in CAMERAS.items():
        write_camera(camera, folder / f"{name}.toml")
        for k in range(FRAMES):
            shot = Shot(seed=10 * k + len(name) + ord(name[0]), camera=name, name=f"{name}{k}.png")
            frame, _ = draw_frame(job, camera, truth[name], QUIET, shot)
            (folder / shot.name).write_bytes(encode(frame.pixels, "png"))
            rows.append(f"{shot.name},{k}.0,{k * 0.3048},18.288,{name}")
    (folder / "frames.csv").write_text("\n".join(rows) + "\n")
    text = job_toml(job)
    for name in CAMERAS:
        old = f'name = "{name}"\n'
        assert old in text
        text = text.replace(old, f'{old}file = "{name}.toml"\n')
    (folder / "job.toml").write_text(text)
    return folder


def run(command, folder):
    done = CliRunner().invoke(app, [command, str(folder), "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output
    return done.output, json.loads((folder / "out" / "run.json").read_text())["drift"]


def with_posts(job, *posts):
    return replace(job, press=replace(job.press, cameras=posts))


@pytest.fixture(scope="module")
def early_and_last(tmp_path_factory):
    """Camera one right after black, the fourth station; camera two after the sixth."""
    job = with_posts(six_colours(), CameraPost("one", 4, 0.5), CameraPost("two", 6, 1.0))
    folder = tmp_path_factory.mktemp("early") / "run"
    return make_folder(folder, job, dict.fromkeys(CAMERAS, OFFSETS))


def test_each_camera_measures_with_its_own_file(early_and_last):
    output, drift = run("measure", early_and_last)
    table = read_offsets(early_and_last / "out" / "offsets.csv")
    assert len(table) == FRAMES * (4 + 6)
    for row in table:
        late, side = OFFSETS.get(row["ink"], (0.0, 0.0))
        assert row["status"] == "ok"
        assert row["circumferential_mm"] == pytest.approx(late, abs=0.004)
        assert row["lateral_mm"] == pytest.approx(side, abs=0.004)
    # Camera one sees a colour right after its station, and none that is printed later.
    early = set(table["ink"][table["camera"] == "one"])
    assert early == {"cyan", "magenta", "yellow", "black"}
    found = drift["disagreements"]
    assert [(d["camera"], d["other_camera"]) for d in found] == [("one", "two")] * 6
    assert not any(d["significant"] for d in found)
    assert "Cameras compared: 6 of 6 show no difference that counts" in output


def test_a_wrong_scale_shows_as_a_disagreement_everywhere(early_and_last, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(early_and_last, folder, ignore=shutil.ignore_patterns("out"))
    write_camera(replace(CAMERAS["one"], row_mm_per_px=0.0123, col_mm_per_px=0.0123),
                 folder / "one.toml")  # fmt: skip
    output, drift = run("measure", folder)
    found = {(d["ink"], d["axis"]): d for d in drift["disagreements"] if d["significant"]}
    # Cyan's mark lies 1.8 mm from black's along the web: 2.5 % of that, seen by camera one.
    assert found["cyan", "circumferential"]["difference_mm"] == pytest.approx(0.045, abs=0.006)
    said = " ".join(output.split())
    assert "Cameras one and two, cyan, circumferential: +0.04" in said
    page = " ".join((folder / "out" / "report.html").read_text().split())
    assert 'two</span> minus <span class="asgiven">one</span> is' in page


def test_exchanged_files_are_not_taken_for_each_other(early_and_last, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(early_and_last, folder, ignore=shutil.ignore_patterns("out"))
    (folder / "one.toml").write_bytes((early_and_last / "two.toml").read_bytes())
    done = CliRunner().invoke(app, ["measure", str(folder), "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output
    table = read_offsets(folder / "out" / "offsets.csv")
    # Marks of another scale, upside down, are not the job's; nothing is made up.
    assert set(table["status"][table["camera"] == "one"]) <= {"missing", "doubtful"}
    assert set(table["status"][table["camera"] == "two"]) == {"ok"}


def test_one_camera_at_each_edge_gives_skew_and_width(tmp_path):
    job = six_colours()
    marks = tuple(replace(m, edge=edge) for edge in ("operator", "drive") for m in job.marks)
    posts = (CameraPost("one", 6, 1.0, "operator"), CameraPost("two", 6, 1.0, "drive"))
    press = replace(job.press, cameras=posts, edge_spacing_mm=300.0)
    truth = {"one": {"cyan": (0.0, 0.01)}, "two": {"cyan": (0.1, 0.055)}}
    folder = make_folder(tmp_path / "run", replace(job, marks=marks, press=press), truth)
    text = (folder / "job.toml").read_text()
    width = "web_width_mm = 330.0\n"
    assert width in text
    (folder / "job.toml").write_text(text.replace(width, f"{width}edge_spacing_mm = 300.0\n"))
    output, drift = run("ramp", folder)
    (pair,) = [p for p in drift["edges"] if p["ink"] == "cyan"]
    assert (pair["camera"], pair["drive_camera"], pair["spacing_mm"]) == ("one", "two", 300.0)
    settled = pair["settled"]
    assert settled["skew_mrad"]["value"] == pytest.approx(1 / 3, abs=0.01)
    assert settled["width_mm"]["value"] == pytest.approx(0.045, abs=0.003)
    assert settled["md_shift_mm"]["value"] == pytest.approx(0.05, abs=0.003)
    assert "Both web edges" in output
    assert "300 mm between the edges' marks, edge_spacing_mm of the job" in " ".join(output.split())
    page = (folder / "out" / "report.html").read_text()
    assert "Web edges, plate and cylinder" in page
