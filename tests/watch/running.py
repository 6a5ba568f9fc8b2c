"""A watch that runs inside a test: desk, follower, and the page on a free port."""

import http.client
import json
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

from regscan.cli.given import Wanted
from regscan.cli.watching import _given, _job_names, _open
from regscan.recording.clock import Pitch
from regscan.watch.bench import Bench
from regscan.watch.desk import Desk, Jobs
from regscan.watch.follower import Follower
from regscan.watch.serve import bind, server
from regscan.watch.session import Given

SECONDS = 60.0  # a busy machine may be slow; nothing here is timed


class InThread:
    """Measures in one thread, which starts at once; the command itself uses processes."""

    processes = 1

    def __init__(self, given: Given) -> None:
        self._bench = Bench(given.job, given.cameras)
        self._pool = ThreadPoolExecutor(1)

    def submit(self, thing: Any) -> "Future[list[bytes]]":
        return self._pool.submit(lambda: [self._bench(thing)])

    def close(self) -> None:
        self._pool.shutdown(cancel_futures=True)


def until(asked: Callable[[], Any], what: str = "it") -> Any:
    """Wait for something to become true; what it gave."""
    end = time.monotonic() + SECONDS
    while time.monotonic() < end:
        if found := asked():
            return found
        time.sleep(0.02)
    raise AssertionError(f"waited in vain for {what}")


class Watch:
    """Desk and follower over a folder; with serve(), the page too."""

    def __init__(
        self,
        folder: Path,
        out: Path,
        hire: Callable[[Given], Any] = InThread,
        pitch: Pitch | None = None,
    ) -> None:
        wanted = Wanted()
        jobs = Jobs(lambda: _job_names(folder), lambda name: _open(folder, wanted, name))
        out.mkdir(parents=True, exist_ok=True)
        self.desk = Desk(out, _given(folder, wanted), jobs, folder)
        self.follower = Follower(self.desk, folder, hire, pitch or Pitch())
        self.server = self.thread = self.address = None

    def __enter__(self) -> "Watch":
        self.follower.start()
        return self

    def serve(self, port: int = 0, host: str = "127.0.0.1") -> str:
        """The page's address, without its door."""
        self.address = bind(host, port, self.desk.out)
        self.port = self.address.sock.getsockname()[1]
        self.server = server(self.desk, self.address)
        self.thread = threading.Thread(
            target=self.server.run, kwargs={"sockets": [self.address.sock]}
        )
        self.thread.start()
        until(lambda: self.server.started, "the server")
        return f"http://127.0.0.1:{self.port}"

    def end_serving(self) -> None:
        if self.server:
            self.server.should_exit = True
            self.thread.join()
            self.address.sock.close()
            self.server = None

    def __exit__(self, *error: object) -> None:
        self.end_serving()
        self.follower.stop()
        self.desk.close()

    def measured(self, frames: int) -> None:
        """Wait until so many frames are measured and told."""
        until(
            lambda: self.desk.watched().counts.measured >= frames and not self.follower.behind,
            f"{frames} frames (have {self.desk.watched().counts})",
        )

    def station(self, ink: str) -> Any:
        return next(s for s in self.desk.watched().stations if s.ink == ink)

    def kinds(self) -> list[str]:
        return [event.kind for event in self.desk.events_after(0)]

    def ask(
        self, method: str, path: str, body: Any = None, **headers: str
    ) -> tuple[int, bytes, dict[str, str]]:
        """One request; underscores in header names become dashes."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=SECONDS)
        try:
            data = None if body is None else json.dumps(body).encode()
            sent = {name.replace("_", "-"): value for name, value in headers.items()}
            link.request(method, path, data, sent)
            answer = link.getresponse()
            return answer.status, answer.read(), {k.lower(): v for k, v in answer.getheaders()}
        finally:
            link.close()
