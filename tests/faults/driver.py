"""Runs regscan commands in forks of one process that has everything loaded, and kills them.

    python -m tests.faults.driver

takes one JSON request a line and answers each with one line. A fork costs a few
milliseconds where a fresh interpreter costs two seconds, so that hundreds of kills fit
into a test.
"""

import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Ended:
    """How a command ended.

    code    its exit code, or minus the signal that ended it.
    told    finished frames it had told of.
    took_s  from start to end.
    """

    code: int
    told: int
    took_s: float

    @property
    def killed(self) -> bool:
        return self.code == -signal.SIGKILL


class Driver:
    """The process that forks, from the side of a test."""

    def __init__(self, log: Path) -> None:
        self.log = log  # what the last command printed
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.driver", str(log)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "NO_COLOR": "1"},
        )

    def run(
        self,
        args: Sequence[object],
        *,
        kill_after_s: float | None = None,
        kill_at: int | None = None,
        cpus: int = 1,
        rlimit: tuple[str, int] | None = None,
        watched: int = 0,
    ) -> Ended:
        """Run one command.

        kill_after_s  SIGKILL to its whole process group after that time.
        kill_at       SIGKILL just before it changes the file system for that time (from 0).
        rlimit        a limit of the resource module, and its value.
        watched       for `watch`: Ctrl-C once so many frames are kept.
        """
        request = {
            "args": [str(one) for one in args],
            "kill_after_s": kill_after_s,
            "kill_at": kill_at,
            "cpus": cpus,
            "rlimit": rlimit,
            "watched": watched,
        }
        assert self.process.stdin
        assert self.process.stdout
        print(json.dumps(request), file=self.process.stdin, flush=True)
        return Ended(**json.loads(self.process.stdout.readline()))

    def close(self) -> None:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.close()
        self.process.wait(20)
        self.process.stdout.close()


def _serve(log: str) -> None:
    _load()
    for line in sys.stdin:
        print(json.dumps(asdict(_run(json.loads(line), log))), flush=True)


def _load() -> None:
    """Everything a command will need, loaded once."""
    import cv2

    cv2.setNumThreads(1)  # threads would not be there in a fork
    for name in (
        "regscan.cli.app",
        "regscan.cli.whole_run",
        "regscan.cli.screen",
        "regscan.cli.keeping",
        "regscan.pipeline",
        "regscan.drift.describe",
        "regscan.drift.why",
        "regscan.verdict.correct",
        "regscan.report.page",
        "regscan.report.overlays",
        "regscan.report.facts",
        "regscan.job.read",
        "regscan.camera.read",
        "regscan.recording.sources",
        "PIL.PngImagePlugin",
        "regscan.cli.watching",
        "regscan.watch.bench",
        "regscan.cli.history_shown",
        "regscan.cli.remember",
        "regscan.history.keep",
    ):
        __import__(name)


def _run(request: dict, log: str) -> Ended:
    told, tell = os.pipe()
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        os.close(told)
        _be_the_command(request, tell, log)
    os.close(tell)
    code = _wait(child, request["kill_after_s"], start)
    took_s = time.monotonic() - start
    counts = b""
    while block := os.read(told, 65536):
        counts += block
    os.close(told)
    return Ended(code, max(map(int, counts.split()), default=0), took_s)


def _wait(child: int, kill_after_s: float | None, start: float) -> int:
    ended = os.pidfd_open(child)
    try:
        left = None if kill_after_s is None else max(start + kill_after_s - time.monotonic(), 0.0)
        if not select.select([ended], [], [], left)[0]:
            _kill_group(child)
    finally:
        os.close(ended)
    _, status = os.waitpid(child, 0)
    _kill_group(child)  # what it may have left behind
    return os.waitstatus_to_exitcode(status)


def _kill_group(child: int) -> None:
    try:
        os.killpg(child, signal.SIGKILL)
    except ProcessLookupError:
        try:
            os.kill(child, signal.SIGKILL)  # not yet a group of its own
        except ProcessLookupError:
            return


def _be_the_command(request: dict, tell: int, log: str) -> None:
    os.setsid()
    out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.dup2(out, 1)
    os.dup2(out, 2)
    code = 70
    try:
        _prepare(request, tell)
        sys.argv = ["regscan", *request["args"]]
        from regscan.cli.app import run

        run()
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
    except BaseException:
        import traceback

        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _prepare(request: dict, tell: int) -> None:
    from regscan import workers
    from regscan.cli import screen

    @contextmanager
    def progress():
        yield lambda done, total: os.write(tell, b"%d\n" % done)

    screen.frame_progress = progress
    workers.cpus = lambda: request["cpus"]
    if request["watched"]:
        _watch_here(request["watched"], tell)
    if request["rlimit"]:
        import resource

        name, value = request["rlimit"]
        if name == "RLIMIT_AS":  # so much more than is taken already
            pages = int(Path("/proc/self/statm").read_text().split()[0])
            value += pages * resource.getpagesize()
        resource.setrlimit(getattr(resource, name), (value, value))
    if request["kill_at"] is not None:
        sys.addaudithook(_killer(request["kill_at"]))


def _watch_here(frames: int, tell: int) -> None:
    """Let `watch` measure in its own process, tell what it keeps, and end by itself."""
    from concurrent.futures import Future

    from regscan.cli import watching
    from regscan.watch.bench import Bench
    from regscan.watch.follower import Follower

    class Here:
        processes = 1

        def __init__(self, given) -> None:
            self.bench = Bench(given.job, given.cameras)

        def submit(self, thing) -> Future:
            done: Future = Future()
            done.set_result([self.bench(thing)])
            return done

        def close(self) -> None:
            return

    step = Follower.step

    def step_and_tell(follower) -> None:
        step(follower)
        session = follower.desk.session
        kept = session.memory.measured + session.unusable
        os.write(tell, b"%d\n" % kept)
        if kept >= frames:
            follower._stop.set()
            os.kill(os.getpid(), signal.SIGINT)

    watching._hire = Here
    Follower.step = step_and_tell


def _killer(at: int):
    left = at

    def hook(event: str, args: tuple) -> None:
        nonlocal left
        if event == "open" and not (
            isinstance(args[2], int) and args[2] & (os.O_WRONLY | os.O_RDWR)
        ):
            return
        if event in ("open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate"):
            if left == 0:
                os.killpg(0, signal.SIGKILL)
            left -= 1

    return hook


if __name__ == "__main__":
    _serve(sys.argv[1])
