"""When a file counts as complete, and which files are looked at at all."""

import os

import pytest

from regscan.watch.arrivals import LOOK_S, PATIENCE_S, RELIST_S, Arrivals


class Clock:
    now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def arrivals(tmp_path, clock):
    return Arrivals(tmp_path, {}, clock)


def names(arrivals, clock, looks=3):
    found = []
    for _ in range(looks):
        found += [path.name for path in arrivals.look()]
        clock.now += LOOK_S
    return found


def test_whole_files_come_once_in_the_order_people_count(tmp_path, arrivals, clock):
    for name in ("f10.png", "f2.png", "f1.png"):
        (tmp_path / name).write_bytes(b"x")
    assert names(arrivals, clock) == ["f1.png", "f2.png", "f10.png"]
    assert names(arrivals, clock) == []


def test_one_look_is_not_enough(tmp_path, arrivals, clock):
    (tmp_path / "f.png").write_bytes(b"x")
    assert arrivals.look() == []


def test_a_file_that_grows_waits(tmp_path, arrivals, clock):
    path = tmp_path / "f.png"
    for size in range(1, 6):
        path.write_bytes(b"x" * size)
        assert arrivals.look() == []
        clock.now += LOOK_S
    assert arrivals.waiting == 1
    assert names(arrivals, clock) == ["f.png"]


def test_an_empty_file_waits(tmp_path, arrivals, clock):
    (tmp_path / "f.png").touch()
    assert names(arrivals, clock, 5) == []


def test_a_writer_that_paused_is_given_another_chance(tmp_path, arrivals, clock):
    path = tmp_path / "f.png"
    path.write_bytes(b"half")
    assert names(arrivals, clock) == ["f.png"]  # it stood still, and could not be read whole
    assert arrivals.again(path)
    path.write_bytes(b"half and half")
    assert names(arrivals, clock, 9) == ["f.png"]


def test_patience_ends(tmp_path, arrivals, clock):
    path = tmp_path / "f.png"
    path.write_bytes(b"no picture")
    tries = 0
    while names(arrivals, clock, 9) == ["f.png"] and arrivals.again(path):
        tries += 1
        assert tries < 100
    assert clock.now > 100.0 + PATIENCE_S
    assert names(arrivals, clock, 9) == []


def test_a_file_that_is_gone_again_is_forgotten(tmp_path, arrivals, clock):
    path = tmp_path / "f.png"
    path.write_bytes(b"x")
    arrivals.look()
    path.unlink()
    assert names(arrivals, clock) == []
    assert not arrivals.again(path)


def test_what_was_measured_before_does_not_come_again(tmp_path, clock):
    path = tmp_path / "f.png"
    path.write_bytes(b"x")
    stat = path.stat()
    arrivals = Arrivals(tmp_path, {"f.png": (stat.st_size, stat.st_mtime_ns)}, clock)
    assert names(arrivals, clock) == []


@pytest.mark.parametrize(("seconds", "again"), [(60, True), (-60, False)])
def test_a_camera_that_writes_over_its_old_files(tmp_path, arrivals, clock, seconds, again):
    path = tmp_path / "f.png"
    path.write_bytes(b"x")
    assert names(arrivals, clock) == ["f.png"]
    at = path.stat().st_mtime + seconds  # earlier: a copy was given its original's time
    os.utime(path, (at, at))
    assert names(arrivals, clock) == (["f.png"] if again else [])


def test_what_lies_there_can_be_passed_over(tmp_path, arrivals, clock):
    (tmp_path / "old.png").write_bytes(b"x")
    assert arrivals.pass_over() == 1
    (tmp_path / "new.png").write_bytes(b"x")
    clock.now += RELIST_S
    assert names(arrivals, clock) == ["new.png"]


def test_links_out_of_the_folder_are_not_followed(tmp_path, clock):
    secret = tmp_path / "secret.png"
    secret.write_bytes(b"x")
    folder = tmp_path / "frames"
    folder.mkdir()
    (folder / "out.png").symlink_to(secret)
    (folder / "up.png").symlink_to("../secret.png")
    (folder / "lost.png").symlink_to("nowhere.png")
    (folder / "in.png").write_bytes(b"x")
    (folder / "same.png").symlink_to("in.png")
    arrivals = Arrivals(folder, {}, clock)
    assert names(arrivals, clock, 30) == ["in.png", "same.png"]
    assert sorted(arrivals.outside) == ["lost.png", "out.png", "up.png"]


def test_only_pictures_and_no_hidden_files(tmp_path, arrivals, clock):
    for name in ("job.toml", ".part.png", "notes.txt"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "folder.png").mkdir()
    assert names(arrivals, clock) == []


def test_a_share_that_is_away_comes_back(tmp_path, clock):
    folder = tmp_path / "share"
    arrivals = Arrivals(folder, {}, clock)
    assert names(arrivals, clock) == []
    folder.mkdir()
    (folder / "f.png").write_bytes(b"x")
    assert names(arrivals, clock) == ["f.png"]
