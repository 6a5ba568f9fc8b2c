"""Work on many frames over a Dask cluster: in order, bounded, and past the loss of a worker.

Only small things travel: where each frame's file lies, and the rows that come back. So every
worker must reach the files under the same path as this machine, and stand on the same regscan
and libraries; both are checked before the first frame and again with every chunk. Needs
`distributed`, which regscan asks for only here (the extra `cluster`).
"""

import os
import pickle
import time
import uuid
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import CancelledError
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from regscan.cluster.chunk import Done, Run, do_chunk
from regscan.cluster.link import check_workers, connected, need_distributed
from regscan.cluster.standing import check_size, standing
from regscan.errors import NoCluster, WorkerLost

if TYPE_CHECKING:
    from distributed import Client, Future

PATIENCE_S = 60.0  # without any worker, while others may be starting in their place
LOOK_S = 2.0  # how often a run that waits looks whether anybody is still working

Thing = TypeVar("Thing")
Result = TypeVar("Result")


def map_on_cluster(
    address: str,
    prepare: Callable[[], Callable[[Thing], Result]],
    things: Sequence[Thing],
    chunk: int,
    preload: Sequence[str] = (),
) -> Generator[Result, None, None]:
    """Results of prepare()(thing) for every thing, in order, worked on by a cluster.

    address   of the scheduler, such as tcp://10.0.0.5:8786.
    things    records with a `path`, the file that the work reads.
    chunk, preload   as in map_in_order; workers load what they need by themselves.

    Never more than two chunks per thread of the cluster are under way, so neither the
    scheduler nor this machine fills up. What a worker had in hand when it was lost is done
    again by another. Raises NoCluster, WorkerLost, MissingExtra.
    """
    need_distributed()
    with connected(address) as client:
        run = Run(uuid.uuid4().hex, pickle.dumps(prepare), standing())
        chunks = [list(things[at : at + chunk]) for at in range(0, len(things), chunk)]
        if chunks:
            check_workers(client, run, _place(chunks[0][0]))
        yield from bounded(client, run, chunks)


def _place(thing: Any) -> Path:
    return Path(os.path.abspath(thing.path))  # a worker stands in another folder


def bounded(client: "Client", run: Run, chunks: Sequence[list[Any]]) -> Iterator[Any]:
    """Results of all chunks in order, never more than a few of them under way."""
    under_way: deque[tuple[list[Any], Future]] = deque()
    limit, looked = 2, 0.0
    for number, chunk in enumerate(chunks):
        if time.monotonic() - looked > LOOK_S:  # workers come and go
            limit, looked = max(2 * _threads(client), 2), time.monotonic()
        sent = [replace(thing, path=_place(thing)) for thing in chunk]
        key = f"regscan-{run.name}-{number}"
        under_way.append((sent, client.submit(do_chunk, run, sent, key=key, pure=False)))
        while len(under_way) > limit:
            yield from fetched(client, *under_way.popleft())
    while under_way:
        yield from fetched(client, *under_way.popleft())


def fetched(client: "Client", chunk: list[Any], future: "Future") -> list[Any]:
    """A chunk's results, its files seen alike on both ends. Raises NoCluster, WorkerLost."""
    from distributed import KilledWorker

    try:
        done = _waited(client, future)
    except KilledWorker:
        raise WorkerLost(
            "the same frames ended several workers of the cluster, most often for want of memory"
            " -> give the workers more memory, or look at the frames by hand"
        ) from None
    except (CancelledError, OSError):  # how a lost connection shows depends on when it is lost
        raise _scheduler_gone() from None
    finally:
        future.release()
    for thing, size in zip(chunk, done.sizes, strict=True):
        check_size(done.worker, thing.path, size)
    return done.results


def _waited(client: "Client", future: "Future") -> Done:
    """The result, however long it takes, as long as anybody works."""
    alone_since = None
    while True:
        try:
            return future.result(timeout=LOOK_S)
        except TimeoutError:
            if _threads(client):
                alone_since = None
                continue
            alone_since = alone_since or time.monotonic()
            if time.monotonic() - alone_since > PATIENCE_S:
                raise NoCluster(
                    f"the cluster has had no worker for {PATIENCE_S:.0f} s -> start workers,"
                    " then measure again with --resume"
                ) from None


def _threads(client: "Client") -> int:
    """Threads of all workers there are now. Raises NoCluster when nobody can tell."""
    if client.status == "running":
        try:
            return sum(client.nthreads().values())
        except (CancelledError, OSError):
            pass
    raise _scheduler_gone()


def _scheduler_gone() -> NoCluster:
    return NoCluster(
        "the cluster's scheduler has gone, or the network to it -> start it again, then measure"
        " again with --resume"
    )
