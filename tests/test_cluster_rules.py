"""What the map over a cluster promises, told without one."""

import sys

import pytest

from regscan import cluster
from regscan.cluster import _bounded, _check_size, _Done, _Run, map_on_cluster
from regscan.errors import MissingExtra, NoCluster
from regscan.recording.frame import FrameInfo
from regscan.recording.sources import FrameSource


class Future:
    def __init__(self, chunk):
        self.chunk = chunk

    def result(self, timeout):
        sizes = [thing.path.stat().st_size if thing.path.exists() else -1 for thing in self.chunk]
        return _Done("w", [thing.info.index for thing in self.chunk], sizes)

    def release(self):
        pass


class Client:
    """Two threads; counts what was handed to it."""

    def __init__(self):
        self.sent = 0

    def nthreads(self):
        return {"w": 2}

    def submit(self, work, run, chunk, key, pure):
        assert not pure  # a file may have changed since the last run
        self.sent += 1
        return Future(chunk)


def sources(folder, count):
    return [FrameSource(FrameInfo(f"{k}", k), folder / f"{k}.png") for k in range(count)]


def chunks_of(folder, count):
    return [sources(folder, count)[at : at + 8] for at in range(0, count, 8)]


def test_what_is_under_way_is_bounded_and_comes_in_order(tmp_path):
    pytest.importorskip("distributed")
    client, run = Client(), _Run("r", b"", {})
    results = _bounded(client, run, chunks_of(tmp_path, 800))
    assert next(results) == 0
    assert client.sent == 2 * 2 + 1
    assert list(results) == list(range(1, 800))
    assert client.sent == 100


def test_a_file_that_only_the_worker_lacks_stops_the_run(tmp_path):
    (tmp_path / "0.png").write_bytes(b"here")
    with pytest.raises(NoCluster, match=r"does not find .*0.png.* -> put the frames on a share"):
        _check_size("w", tmp_path / "0.png", -1)
    with pytest.raises(NoCluster, match="with 9 bytes, here it has 4"):
        _check_size("w", tmp_path / "0.png", 9)
    _check_size("w", tmp_path / "0.png", 4)


def test_a_file_that_is_gone_here_too_is_the_frames_own_trouble(tmp_path):
    _check_size("w", tmp_path / "gone.png", -1)


def test_without_distributed_the_message_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MissingExtra, match=r"regscan-press\[cluster\]"):
        list(map_on_cluster("tcp://127.0.0.1:9", list, []))


def test_the_code_and_the_libraries_decide_whether_two_machines_are_alike():
    standing = cluster._standing()
    assert {"regscan", "numpy", "scipy", "Python", "processor"} <= set(standing)
    assert len(standing["regscan"]) == 12
