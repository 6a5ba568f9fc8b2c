"""Which job, camera and speed log a command works with."""

from dataclasses import replace
from pathlib import Path

import pytest

from regscan.camera.camera import Camera
from regscan.camera.read import write_camera
from regscan.cli.given import Wanted, beside, given_cameras, given_job, given_speed_log
from regscan.errors import BadCamera, BadJob
from regscan.job.job import CameraPost
from regscan.job.read import read_job


@pytest.fixture
def folder(small_run, tmp_path):
    own = tmp_path / "run"
    own.mkdir()
    (own / "job.toml").write_bytes((small_run.frames / "job.toml").read_bytes())
    write_camera(Camera(0.010, 0.010), own / "camera.toml")
    return own


def with_cameras(job, *posts):
    return replace(job, press=replace(job.press, cameras=posts))


def size_of(cameras):
    return {name: camera.row_mm_per_px for name, camera in cameras.items()}


def test_the_first_folder_given_brings_its_files(tmp_path):
    assert beside([tmp_path / "a.png", tmp_path]) == tmp_path
    assert beside([Path("there") / "a.png"]) == Path("there")


def test_the_folders_own_job_is_used(folder):
    assert given_job(Wanted(), folder) == read_job(folder / "job.toml")


def test_a_job_given_by_option_wins(folder, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text((folder / "job.toml").read_text().replace("Honey jar", "Plum jar"))
    assert given_job(Wanted(job=other), folder).name.startswith("Plum jar")


def test_a_missing_job_names_the_option(tmp_path):
    with pytest.raises(BadJob, match=r"job\.toml.*(\n.*)*--job FILE"):
        given_job(Wanted(), tmp_path)


def test_a_missing_camera_names_the_option(folder):
    (folder / "camera.toml").unlink()
    job = with_cameras(given_job(Wanted(), folder))
    with pytest.raises(BadCamera, match=r"camera\.toml.*(\n.*)*--camera FILE"):
        given_cameras(Wanted(), folder, job)


def test_without_cameras_in_the_job_there_is_an_unnamed_one(folder):
    job = with_cameras(given_job(Wanted(), folder))
    assert size_of(given_cameras(Wanted(), folder, job)) == {"": 0.010}


def test_frames_need_not_name_an_only_camera(folder):
    job = with_cameras(given_job(Wanted(), folder), CameraPost("end", 6, 2.0))
    cameras = given_cameras(Wanted(), folder, job)
    assert size_of(cameras) == {"end": 0.010, "": 0.010}
    assert cameras[""].name == "end"


def test_each_camera_has_its_own_file_and_the_rest_share_the_option(folder, tmp_path):
    write_camera(Camera(0.008, 0.008), folder / "first.toml")
    write_camera(Camera(0.020, 0.020), tmp_path / "all.toml")
    posts = (
        CameraPost("first", 2, 0.5, file="first.toml"),
        CameraPost("end", 6, 2.0),
    )
    job = with_cameras(given_job(Wanted(), folder), *posts)
    assert size_of(given_cameras(Wanted(), folder, job)) == {"first": 0.008, "end": 0.010}
    wanted = Wanted(camera=tmp_path / "all.toml")
    assert size_of(given_cameras(wanted, folder, job)) == {"first": 0.008, "end": 0.020}


def test_for_an_only_camera_the_option_wins_over_the_job(folder, tmp_path):
    write_camera(Camera(0.008, 0.008), folder / "own.toml")
    write_camera(Camera(0.020, 0.020), tmp_path / "all.toml")
    job = with_cameras(given_job(Wanted(), folder), CameraPost("end", 6, 2.0, file="own.toml"))
    assert size_of(given_cameras(Wanted(), folder, job))["end"] == 0.008
    wanted = Wanted(camera=tmp_path / "all.toml")
    assert size_of(given_cameras(wanted, folder, job))["end"] == 0.020


def test_a_speed_log_is_used_when_there_is_one(folder):
    assert given_speed_log(Wanted(), folder) is None
    (folder / "speed_log.csv").write_text("time_s,speed_m_min\n0,150\n1,150\n")
    log = given_speed_log(Wanted(), folder)
    assert log is not None
    assert log.speed_at(0.5) == pytest.approx(150.0)
