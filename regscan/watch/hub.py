"""From the desk to every open page: one snapshot at a time, events each once, nobody waited for.

A page that is slow or away costs nothing: it is sent the newest snapshot when it takes one, and
the events after the last one it has (Last-Event-ID), also across a restart.
"""

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import asdict

from starlette.concurrency import run_in_threadpool

from regscan.watch.desk import Desk

LEAST_S = 0.1  # between two snapshots
RETRY_MS = 1000  # after which a page tries again


class Hub:
    """Keeps the newest snapshot as text, made once for all pages."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._stale = asyncio.Event()
        self._fresh = asyncio.Condition()
        self.version, self._state = -1, ""
        self._events = 0  # the newest that the snapshot knows of

    async def run(self) -> None:
        """Make a snapshot whenever the desk changes, until cancelled."""
        loop = asyncio.get_running_loop()

        def changed() -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(self._stale.set)

        self._desk.changed = changed
        self._stale.set()
        while True:
            await self._stale.wait()
            self._stale.clear()
            # The desk may be busy with a frame; nobody else is kept waiting meanwhile.
            watched = await run_in_threadpool(self._desk.watched)
            async with self._fresh:
                self.version, self._events = watched.version, watched.events
                self._state = json.dumps(asdict(watched), separators=(",", ":"), allow_nan=False)
                self._fresh.notify_all()
            await asyncio.sleep(LEAST_S)

    async def state(self) -> str:
        """The newest snapshot as JSON."""
        return (await self._newer_than(-1))[2]

    async def _newer_than(self, version: int) -> tuple[int, int, str]:
        async with self._fresh:
            await self._fresh.wait_for(lambda: self.version > version)
            return self.version, self._events, self._state

    async def stream(self, last_event: int, hello: dict[str, str]) -> AsyncIterator[str]:
        """What one page is sent, as server-sent events, until it goes away."""
        yield f"retry: {RETRY_MS}\n\n" + _message("hello", json.dumps(hello))
        sent = -1
        while True:
            sent, newest, state = await self._newer_than(sent)
            for event in await run_in_threadpool(self._desk.events_after, last_event):
                # One that is newer than the snapshot comes with the next: a page that knows of
                # more events than the watch takes it for another watch, and loads itself anew.
                if event.number > newest:
                    break
                yield _message("log", json.dumps(asdict(event)), event.number)
                last_event = event.number
            yield _message("state", state)


def _message(kind: str, data: str, number: int | None = None) -> str:
    identity = "" if number is None else f"id: {number}\n"
    return f"event: {kind}\n{identity}data: {data}\n\n"
