"""Work on many frames over a Dask cluster: the same map as regscan.workers, on other machines.

Only small things travel: where each frame's file lies, and the rows that come back. So every
worker must reach the files under the same path as this machine, and run the same regscan on
the same libraries; both are checked before the first frame and again with every chunk. Needs
`distributed`, which regscan asks for only here (the extra `cluster`).
"""

import hashlib
import os
import pickle
import platform
import socket
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from regscan.errors import MissingExtra, NoCluster, WorkerLost
from regscan.workers import CHUNK

if TYPE_CHECKING:
    from distributed import Client, Future

CONNECT_S = 10.0  # to reach the scheduler, and to see a first worker
PATIENCE_S = 60.0  # without any worker, while others may be starting in their place
LOOK_S = 2.0  # how often a run that waits looks whether anybody is still working
LIBRARIES = ("numpy", "opencv-python-headless", "scipy", "scikit-image")

Thing = TypeVar("Thing")
Result = TypeVar("Result")

# What each thread of this worker process has prepared, for the one run it serves.
_prepared = threading.local()


def need_distributed() -> None:
    """Say at once when distributed is not there. Raises MissingExtra."""
    try:
        import distributed  # noqa: F401
    except ImportError:
        raise MissingExtra("--cluster", "distributed", "cluster") from None


def map_on_cluster(
    address: str,
    prepare: Callable[[], Callable[[Thing], Result]],
    things: Sequence[Thing],
    preload: Sequence[str] = (),
) -> Generator[Result, None, None]:
    """Results of prepare()(thing) for every thing, in order, worked on by a cluster.

    address   of the scheduler, such as tcp://10.0.0.5:8786.
    things    records with a `path`, the file that the work reads.
    preload   as in map_in_order; workers load what they need by themselves.

    Never more than two chunks per thread of the cluster are under way, so neither the
    scheduler nor this machine fills up. What a worker had in hand when it was lost is done
    again by another. Raises NoCluster, WorkerLost, MissingExtra.
    """
    need_distributed()
    with _client(address) as client:
        run = _Run(uuid.uuid4().hex, pickle.dumps(prepare), _standing())
        chunks = [list(things[at : at + CHUNK]) for at in range(0, len(things), CHUNK)]
        if chunks:
            _check_workers(client, run, _place(chunks[0][0]))
        yield from _bounded(client, run, chunks)


@dataclass(frozen=True, slots=True)
class _Run:
    """One map: its name, the pickled `prepare`, and what its workers must stand on."""

    name: str
    prepare: bytes
    standing: dict[str, str]


@dataclass(frozen=True, slots=True)
class _Done:
    """A chunk's results and the size in bytes of each thing's file; -1 for one not there."""

    worker: str
    results: list[Any]
    sizes: list[int]


def _place(thing: Any) -> Path:
    return Path(os.path.abspath(thing.path))


def _knock(address: str) -> None:
    """Whether anybody listens there at all: told at once, and not after a time-out."""
    scheme, _, place = address.rpartition("://")
    host, _, port = place.strip("/").rpartition(":")
    if scheme not in ("", "tcp", "tls") or not host or not port.isdecimal():
        raise NoCluster(f"{address!r} is no address -> give one such as tcp://10.0.0.5:8786")
    try:
        socket.create_connection((host.strip("[]"), int(port)), CONNECT_S).close()
    except (OSError, OverflowError) as fault:
        raise _nobody(address, str(fault)) from None


def _nobody(address: str, why: str) -> NoCluster:
    return NoCluster(
        f"no cluster answers at {address!r} ({why[:120]}) -> start `dask scheduler` there, give"
        " its tcp:// address, or leave --cluster out"
    )


@contextmanager
def _client(address: str) -> Iterator["Client"]:
    import logging

    from distributed import Client

    _knock(address)
    log = logging.getLogger("distributed")
    before = log.level
    log.setLevel(logging.CRITICAL)  # what matters is said here, once
    try:
        client = Client(address, timeout=CONNECT_S, set_as_default=False, name="regscan")
    except (OSError, ValueError, TypeError, ImportError) as fault:
        log.setLevel(before)
        raise _nobody(address, str(fault) or type(fault).__name__) from None
    try:
        yield client
    finally:
        with suppress(Exception):  # a scheduler that is gone cannot be taken leave of
            client.close(timeout=LOOK_S)
        log.setLevel(before)


def _check_workers(client: "Client", run: _Run, first: Path) -> None:
    """Every worker there is must stand on the same, and see the first file."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
        found = client.run(_seen, str(first))
    except TimeoutError:
        raise NoCluster(
            "the cluster has no workers -> start `dask worker ADDRESS` on the machines that are"
            " to measure"
        ) from None
    except Exception as fault:  # what a foreign machine raises cannot be listed
        raise NoCluster(
            f"a worker cannot run regscan ({str(fault)[:160]}) -> install the same regscan in"
            " the environment that `dask worker` runs in"
        ) from None
    for worker, (standing, size) in sorted(found.items()):
        _check_standing(worker, standing, run.standing)
        _check_size(worker, first, size)


def _check_standing(worker: str, theirs: dict[str, str], ours: dict[str, str]) -> None:
    other = [
        f"{name} {theirs.get(name, 'none')}, here {ours[name]}"
        for name in ours
        if theirs.get(name) != ours[name]
    ]
    if other:
        raise NoCluster(
            f"worker {worker} differs from this machine ({'; '.join(other)}), so its rows might"
            " differ in their last digits -> install the same versions on both"
        )


def _check_size(worker: str, path: Path, size: int) -> None:
    """A file that is here must be the same there; one that is gone here may be gone there."""
    try:
        here = path.stat().st_size
    except OSError:
        return
    if size == -1:
        raise NoCluster(
            f"worker {worker} does not find {path} -> put the frames on a share that every"
            " machine mounts under the same path"
        )
    if size != here:
        raise NoCluster(
            f"worker {worker} sees {path} with {size} bytes, here it has {here} -> check that"
            " the path leads to the same share on both"
        )


def _bounded(client: "Client", run: _Run, chunks: Sequence[list[Any]]) -> Iterator[Any]:
    under_way: deque[tuple[list[Any], Future]] = deque()
    limit, looked = 2, 0.0
    for number, chunk in enumerate(chunks):
        if time.monotonic() - looked > LOOK_S:  # workers come and go
            limit, looked = max(2 * sum(client.nthreads().values()), 2), time.monotonic()
        sent = [replace(thing, path=_place(thing)) for thing in chunk]
        key = f"regscan-{run.name}-{number}"
        future = client.submit(_do_chunk, run, sent, key=key, pure=False)
        under_way.append((sent, future))
        while len(under_way) > limit:
            yield from _fetched(client, *under_way.popleft())
    while under_way:
        yield from _fetched(client, *under_way.popleft())


def _fetched(client: "Client", chunk: list[Any], future: "Future") -> list[Any]:
    from distributed import KilledWorker
    from distributed.comm import CommClosedError

    try:
        done: _Done = _waited(client, future)
    except KilledWorker:
        raise WorkerLost(
            "the same frames ended several workers of the cluster, most often for want of memory"
            " -> give the workers more memory, or look at the frames by hand"
        ) from None
    except (CommClosedError, OSError) as fault:
        raise NoCluster(
            f"the cluster's scheduler has gone ({str(fault)[:120]}) -> start it again, then"
            " measure again with --resume"
        ) from None
    finally:
        future.release()
    for thing, size in zip(chunk, done.sizes, strict=True):
        _check_size(done.worker, thing.path, size)
    return done.results


def _waited(client: "Client", future: "Future") -> Any:
    """The result, however long it takes, as long as anybody works."""
    alone_since = None
    while True:
        try:
            return future.result(timeout=LOOK_S)
        except TimeoutError:
            if client.status != "running" or future.cancelled():
                raise OSError("no connection") from None
            if client.nthreads():
                alone_since = None
                continue
            alone_since = alone_since or time.monotonic()
            if time.monotonic() - alone_since > PATIENCE_S:
                raise NoCluster(
                    f"the cluster has had no worker for {PATIENCE_S:.0f} s -> start workers,"
                    " then measure again with --resume"
                ) from None


# What follows runs on the workers.


def _seen(path: str) -> tuple[dict[str, str], int]:
    return _standing(), _size(Path(path))


def _do_chunk(run: _Run, chunk: list[Any]) -> _Done:
    from distributed import get_worker

    worker = get_worker().address
    _check_standing(worker, _standing(), run.standing)
    sizes = [_size(thing.path) for thing in chunk]
    if getattr(_prepared, "name", "") != run.name:
        _prepared.work, _prepared.name = pickle.loads(run.prepare)(), run.name
    return _Done(worker, [_prepared.work(thing) for thing in chunk], sizes)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return -1


@cache
def _standing() -> dict[str, str]:
    """What decides the last digits: the code, the libraries, Python, the kind of processor."""
    return {
        "regscan": _digest(),
        **{name: _version(name) for name in LIBRARIES},
        "Python": ".".join(platform.python_version_tuple()[:2]),
        "processor": platform.machine(),
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "none"


def _digest() -> str:
    """Of every source file of regscan: two checkouts of one version may differ."""
    found = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        found.update(path.read_bytes())
    return found.hexdigest()[:12]
