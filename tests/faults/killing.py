"""Kill a command at any moment, look at what it left, go on with it, and compare the end."""

import json
import random
import shutil
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.journal.journal import NAME
from regscan.journal.linefile import good_lines
from regscan.journal.record import Recorder
from regscan.measuring import FrameMeasurer
from regscan.recording.sources import open_recording
from regscan.wholefile import UNFINISHED
from tests.faults.driver import Driver, Ended


@dataclass
class Undisturbed:
    """What a run gives when nobody kills it: its files, each frame's record, its time."""

    args: list[str]
    files: dict[str, bytes]
    records: list[bytes]
    took_s: float


def undisturbed(driver: Driver, args: list[str], folder: Path, out: Path) -> Undisturbed:
    """Run the command once to its end."""
    ended = [driver.run([*args, "--out", out]) for _ in range(2)][-1]
    assert ended.code == 0
    return Undisturbed(args, results(out), _records(folder), ended.took_s)


def _records(folder: Path) -> list[bytes]:
    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    measure = Recorder(partial(FrameMeasurer, job, {"": camera}))
    return [measure(source) for source in open_recording([folder]).sources]


def results(out: Path) -> dict[str, bytes]:
    """Every visible file of a results folder; run.json without the moment it was made.

    The report page shows that moment too and is only looked at for being whole.
    """
    found = {}
    for path in sorted(out.rglob("*")):
        name = path.relative_to(out).as_posix()
        if path.is_file() and not name.startswith(UNFINISHED):
            found[name] = path.read_bytes()
    if "run.json" in found:
        run = json.loads(found["run.json"])
        del run["inputs"]["made_at"]
        found["run.json"] = json.dumps(run).encode()
    if "report.html" in found:
        assert found["report.html"].rstrip().endswith(b"</html>")
        found["report.html"] = b""
    return found


def kept(out: Path) -> list[bytes]:
    """The frames in the journal that a killed run left."""
    path = out / UNFINISHED / NAME
    return list(good_lines(path))[1:] if path.exists() else []


@dataclass
class Killing:
    """A run into one folder that is killed and gone on with until it ends, over and over."""

    driver: Driver
    whole: Undisturbed
    out: Path
    random: random.Random
    kills: int = 0
    ends: int = 0
    found: int = 0  # finished frames at the last kill
    older: int = 0  # which file run.json is that lay there before

    def at_random(self, cpus: int = 1) -> None:
        """One attempt with a kill at any moment of it, or just after it."""
        after_s = self.random.uniform(0.0, 1.1 * self.whole.took_s)
        self._look(self.driver.run(self._args(), kill_after_s=after_s, cpus=cpus))

    def at_change(self, number: int) -> bool:
        """A kill just before the change of that number; whether there is so late a change."""
        before = self.kills
        self._look(self.driver.run(self._args(), kill_at=number))
        return self.kills > before

    def to_the_end(self) -> None:
        self._look(self.driver.run(self._args()))

    def _args(self) -> list[object]:
        return [*self.whole.args, "--out", self.out, "--resume"]

    def _look(self, ended: Ended) -> None:
        if not ended.killed:
            self._look_at_the_end(ended)
            return
        self.kills += 1
        frames = kept(self.out)
        done = results(self.out) if self.out.exists() else {}
        if self._which_run() in (0, self.older):
            assert len(frames) >= max(ended.told, self.found)
            self.found = len(frames)
        assert frames == self.whole.records[: len(frames)]
        for name, content in done.items():  # none is there in part, none is of another run
            assert content == self.whole.files[name], name
        if "run.json" in done:
            assert done == self.whole.files

    def _look_at_the_end(self, ended: Ended) -> None:
        assert ended.code == 0
        assert results(self.out) == self.whole.files
        assert not (self.out / UNFINISHED).exists()
        self.ends, self.found = self.ends + 1, 0
        if self.ends % 2:  # the next run finds older results there, or nothing
            shutil.rmtree(self.out)
        self.older = self._which_run()

    def _which_run(self) -> int:
        """Tells one run's results from the next one's; 0 where there are none."""
        run = self.out / "run.json"
        return run.stat().st_mtime_ns if run.exists() else 0
