"""What the map over a cluster promises, told without one."""

import sys
from concurrent.futures import CancelledError

import pytest

from regscan.cluster import over
from regscan.cluster.chunk import Done, Run
from regscan.cluster.over import bounded, fetched, map_on_cluster
from regscan.cluster.standing import NOT_THERE, check_size, size_of, standing
from regscan.errors import MissingExtra, NoCluster, WorkerLost
from regscan.recording.frame import FrameInfo
from regscan.recording.sources import FrameSource

RUN = Run("r", b"", {})


class Future:
    """Gives each thing's number, or raises what it is told to."""

    def __init__(self, chunk, faults=()):
        self.chunk, self.faults, self.released = chunk, list(faults), False

    def result(self, timeout):
        if self.faults:
            raise self.faults.pop(0)
        sizes = [size_of(thing.path) for thing in self.chunk]
        return Done("w", [thing.info.index for thing in self.chunk], sizes)

    def release(self):
        self.released = True


class Client:
    """Two threads; counts what was handed to it."""

    status = "running"

    def __init__(self, threads=2):
        self.sent, self.threads = 0, threads

    def nthreads(self):
        return {"w": self.threads}

    def submit(self, work, run, chunk, key, pure):
        assert not pure  # a file may have changed since the last run
        self.sent += 1
        return Future(chunk)


def sources(folder, count):
    return [FrameSource(FrameInfo(f"{k}", k), folder / f"{k}.png") for k in range(count)]


def chunks_of(folder, count):
    return [sources(folder, count)[at : at + 8] for at in range(0, count, 8)]


def test_what_is_under_way_is_bounded_and_comes_in_order(tmp_path):
    client = Client()
    results = bounded(client, RUN, chunks_of(tmp_path, 800))
    assert next(results) == 0
    assert client.sent == 2 * 2 + 1
    assert list(results) == list(range(1, 800))
    assert client.sent == 100


def test_a_file_that_only_the_worker_lacks_stops_the_run(tmp_path):
    (tmp_path / "0.png").write_bytes(b"here")
    with pytest.raises(NoCluster, match=r"does not find .*0.png.* -> put the frames on a share"):
        check_size("w", tmp_path / "0.png", NOT_THERE)
    with pytest.raises(NoCluster, match="with 9 bytes, here it has 4"):
        check_size("w", tmp_path / "0.png", 9)
    check_size("w", tmp_path / "0.png", 4)


def test_a_file_that_is_gone_here_too_is_the_frames_own_trouble(tmp_path):
    check_size("w", tmp_path / "gone.png", NOT_THERE)


def killed():
    from distributed import KilledWorker

    return KilledWorker("task", None, 3)


def closed():
    from distributed.comm import CommClosedError

    return CommClosedError("gone")


@pytest.mark.parametrize(
    ("fault", "kind", "words"),
    [
        (killed, WorkerLost, "ended several workers"),
        (closed, NoCluster, "scheduler has gone"),
        (lambda: CancelledError("gone"), NoCluster, "scheduler has gone"),
    ],
)
def test_what_stops_a_run_is_one_error_with_its_cure(tmp_path, fault, kind, words):
    future = Future(sources(tmp_path, 1), [fault()])
    with pytest.raises(kind, match=f"{words}.* -> "):
        fetched(Client(), future.chunk, future)
    assert future.released


def test_a_slow_chunk_is_waited_for_as_long_as_anybody_works(tmp_path):
    future = Future(sources(tmp_path, 1), [TimeoutError()] * 50)
    assert fetched(Client(), future.chunk, future) == [0]


def test_without_any_worker_patience_ends(tmp_path, monkeypatch):
    monkeypatch.setattr(over, "PATIENCE_S", 0.01)
    future = Future(sources(tmp_path, 1), [TimeoutError()] * 100_000)
    with pytest.raises(NoCluster, match="no worker for"):
        fetched(Client(threads=0), future.chunk, future)


def test_without_distributed_the_message_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(MissingExtra, match=r"regscan-press\[cluster\]"):
        list(map_on_cluster("tcp://127.0.0.1:9", list, [], 1))


def test_the_code_and_the_libraries_decide_whether_two_machines_are_alike():
    told = standing()
    assert {"regscan", "numpy", "scipy", "Python", "processor"} <= set(told)
    assert len(told["regscan"]) == 12
