"""Work on many things over several processes: in order, bounded, and stoppable.

Knows nothing of frames. Workers come from a clean server process and not by
copying this one, because a copy may inherit a locked image library.
"""

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from multiprocessing.context import BaseContext
from typing import Any, TypeVar

from regscan.errors import WorkerLost

CHUNK = 8  # things per task: large enough that sending them costs nothing beside the work
FEW = 16  # below this, starting processes costs more than they save

Thing = TypeVar("Thing")
Result = TypeVar("Result")

# What `prepare` made in this worker process; a worker serves one map only.
_work: Callable[[Any], Any] | None = None


def cpus() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def map_in_order(
    prepare: Callable[[], Callable[[Thing], Result]],
    things: Sequence[Thing],
    preload: Sequence[str] = (),
) -> Iterator[Result]:
    """Results of prepare()(thing) for every thing, in order.

    prepare   called once per process, where it may be costly; must be picklable.
    preload   modules that all workers share, loaded once.

    Never more than a few chunks per process are under way, so memory does not
    grow with the number of things. Few things, or one processor, are done here.
    Raises WorkerLost when a process dies.
    """
    if len(things) < FEW or cpus() == 1:
        yield from map(prepare(), things)
        return
    pool = ProcessPoolExecutor(cpus(), _context(preload), _start_worker, (prepare,))
    try:
        yield from _bounded(pool, things)
    except BrokenProcessPool:
        raise WorkerLost(
            "a measuring process was ended by the system, most often for want of memory"
            " -> close other programs, or measure fewer or smaller frames at a time"
        ) from None
    finally:
        # Also the way out when the user stops the run: what is queued is dropped.
        pool.shutdown(wait=True, cancel_futures=True)


def _bounded(pool: ProcessPoolExecutor, things: Sequence[Any]) -> Iterator[Any]:
    under_way: deque[Future[list[Any]]] = deque()
    for start in range(0, len(things), CHUNK):
        under_way.append(pool.submit(_do_chunk, list(things[start : start + CHUNK])))
        if len(under_way) > 2 * cpus():
            yield from under_way.popleft().result()
    while under_way:
        yield from under_way.popleft().result()


def _context(preload: Sequence[str]) -> BaseContext:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["__main__", *preload])
    return context


def _start_worker(prepare: Callable[[], Callable[[Any], Any]]) -> None:
    global _work
    # Ctrl-C reaches the whole group; only the parent decides what it means.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _work = prepare()


def _end_with_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _do_chunk(chunk: list[Any]) -> list[Any]:
    assert _work is not None
    return [_work(thing) for thing in chunk]
