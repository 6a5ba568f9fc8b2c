"""Work on many things over several processes: in order, bounded, and stoppable.

Knows nothing of frames. Workers come from a clean server process and not by
copying this one, because a copy may inherit a locked image library.
"""

import ctypes
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing.connection import wait
from multiprocessing.context import BaseContext
from typing import Any, TypeVar

from regscan.errors import WorkerLost
from regscan.threads import one_each

_ENDED = "a measuring process was ended by the system, most often for want of memory"
_MEMORY = " -> close other programs, or measure fewer or smaller frames at a time"
_GUARD = "a script of your own must call this under: if __name__ == '__main__'"

Thing = TypeVar("Thing")
Result = TypeVar("Result")

# What `prepare` made in this worker process, and whether anybody still wants what comes of it; a
# worker serves one map only.
_work: Callable[[Any], Any] | None = None
_stopped: ctypes.c_bool


def cpus() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def map_in_order(
    prepare: Callable[[], Callable[[Thing], Result]],
    things: Sequence[Thing],
    chunk: int,
    preload: Sequence[str] = (),
) -> Generator[Result, None, None]:
    """Results of prepare()(thing) for every thing, in order.

    prepare   called once per process, where it may be costly; must be picklable.
    chunk     things that one process works on one after another; some tens of milliseconds of
              work at least, so that sending them costs nothing beside it.
    preload   modules that all workers share, loaded once.

    Never more than a few chunks per process are under way, so memory does not
    grow with the number of things. What one process would do alone is done here.
    Raises WorkerLost when a process dies.
    """
    if len(things) <= chunk or cpus() == 1:
        yield from map(prepare(), things)
        return
    pool, stopped = _pool(cpus(), prepare, preload)
    came = False
    try:
        for result in _bounded(pool, things, chunk):
            came = True
            yield result
    except BrokenProcessPool:
        raise WorkerLost(_ENDED + (_MEMORY if came else f"{_MEMORY}; {_GUARD}")) from None
    finally:
        # Also the way out when the user stops the run: what is queued, or begun, is dropped.
        stopped.value = True
        pool.shutdown(wait=True, cancel_futures=True)


class Crew:
    """Workers that stay, for things that come one by one: submit(thing).result() is [its result].

    prepare, preload   as for map_in_order; processes   how many, by default all but one, which
    is left to whoever waits for the results.
    """

    def __init__(
        self,
        prepare: Callable[[], Callable[[Any], Any]],
        preload: Sequence[str] = (),
        processes: int | None = None,
    ) -> None:
        self.processes = processes or max(cpus() - 1, 1)
        self._pool, _ = _pool(self.processes, prepare, preload)

    def submit(self, thing: Any) -> "Future[list[Any]]":
        """Have a thing worked on. Raises BrokenProcessPool when a process has died."""
        return _submitted(self._pool, [thing])

    def close(self) -> None:
        """Drop what is queued and let the processes go."""
        self._pool.shutdown(wait=False, cancel_futures=True)


def _pool(
    processes: int, prepare: Callable[[], Callable[[Any], Any]], preload: Sequence[str]
) -> tuple[ProcessPoolExecutor, ctypes.c_bool]:
    """Workers, and what to set true when they shall begin nothing more."""
    context = _context(preload)
    stopped = context.RawValue(ctypes.c_bool, False)  # a lock could die with the worker that has it
    return ProcessPoolExecutor(processes, context, _start_worker, (prepare, stopped)), stopped


def _bounded(pool: ProcessPoolExecutor, things: Sequence[Any], chunk: int) -> Iterator[Any]:
    under_way: deque[Future[list[Any]]] = deque()
    for start in range(0, len(things), chunk):
        under_way.append(_submitted(pool, list(things[start : start + chunk])))
        if len(under_way) > 2 * cpus():
            yield from under_way.popleft().result()
    while under_way:
        yield from under_way.popleft().result()


def _submitted(pool: ProcessPoolExecutor, chunk: list[Any]) -> Future[list[Any]]:
    with _undisturbed():  # it may start a process, which must not be left half-made
        try:
            return pool.submit(_do_chunk, chunk)
        except (EOFError, ConnectionError) as fault:  # the server of processes is gone
            raise BrokenProcessPool(str(fault)) from fault


def _context(preload: Sequence[str]) -> BaseContext:
    one_each()  # the processes share out the things; threads would only fight
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    from multiprocessing import forkserver, resource_tracker

    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["__main__", *preload])
    resource_tracker.ensure_running()  # looks after itself, but would lift the mask
    with _undisturbed():
        forkserver.ensure_running()
    return context


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Put off being stopped until the end; processes started meanwhile never heed Ctrl-C.

    Ctrl-C reaches every process of the terminal, and only the parent decides what it means.
    """
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread is ever stopped
        return
    held: list[int] = []
    stops = (signal.SIGINT, signal.SIGTERM)
    before = [signal.signal(stop, lambda number, _: held.append(number)) for stop in stops]
    mask = getattr(signal, "pthread_sigmask", None)  # is inherited; Windows has none
    heeded = mask(signal.SIG_BLOCK, {signal.SIGINT}) if mask else set()
    try:
        yield
    finally:
        if mask:
            mask(signal.SIG_SETMASK, heeded)
        for stop, handler in zip(stops, before, strict=True):
            signal.signal(stop, handler or signal.SIG_DFL)
        for number in held:
            signal.raise_signal(number)


def _start_worker(prepare: Callable[[], Callable[[Any], Any]], stopped: ctypes.c_bool) -> None:
    global _work, _stopped
    _stopped = stopped
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where a mask is not to be had
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
    return [_work(thing) for thing in chunk if not _stopped.value]
