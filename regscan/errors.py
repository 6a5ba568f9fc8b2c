"""Every error regscan raises on purpose, in one tree.

    RegscanError
    +-- BadInput            something we were given is wrong      exit code 3
        +-- BadJob          job.toml
        +-- BadCamera       camera.toml
        +-- BadFrames       image files, frames.csv, the folder itself
        +-- BadSpeedLog     speed_log.csv
        +-- BadTable        an offsets.csv or run.json that is to be read back
        +-- BadStudy        a gauge study: study.csv, holes, too few of anything
        +-- BadHistory      the file that keeps the runs of months
        +-- BadOutput       the place results should go to
        +-- BadJournal          an interrupted run that cannot be gone on with
    +-- MissingExtra        an optional package that is asked for and not there
    +-- NoCluster           no cluster at the address, or it cannot do this work
    +-- WorkerLost          a measuring process was ended from outside

An error carries the file it is about and *all* problems found in it, each with
its cure, so that a user mends a file once. Exit codes are the contract's.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where, what, and what to do about it."""

    place: str
    what: str
    cure: str = ""

    def __str__(self) -> str:
        place = f"{self.place}: " if self.place else ""
        cure = f" -> {self.cure}" if self.cure else ""
        return f"{place}{self.what}{cure}"


class RegscanError(Exception):
    """Root of the tree; `slug` names the message in docs/messages.md."""

    slug = "error"
    exit_code = 3


class BadInput(RegscanError):
    """A file or folder that cannot be used, with every problem found in it."""

    slug = "bad-input"

    def __init__(self, path: str | Path, problems: Iterable[Problem] | Problem) -> None:
        self.path = str(path)
        self.problems = [problems] if isinstance(problems, Problem) else list(problems)
        count = len(self.problems)
        head = f"{self.path}: {count} problem{'' if count == 1 else 's'}"
        super().__init__("\n".join([head, *(f"  - {p}" for p in self.problems)]))


class BadJob(BadInput):
    """The job file does not describe a press that can be measured."""

    slug = "bad-job"


class BadCamera(BadInput):
    """The camera file does not say how pixels lie on the web."""

    slug = "bad-camera"


class BadFrames(BadInput):
    """No usable frames: an empty folder, unreadable images, a broken frames.csv."""

    slug = "bad-frames"


class BadSpeedLog(BadInput):
    """The speed log cannot be read, runs backward, or holds text for numbers."""

    slug = "bad-speed-log"


class BadTable(BadInput):
    """A result file (offsets.csv, run.json) cannot be read back."""

    slug = "bad-table"


class BadStudy(BadInput):
    """A gauge study cannot be judged: a list that is wrong, holes, too few trials or positions."""

    slug = "bad-study"


class BadHistory(BadInput):
    """A history file that is damaged, of a newer version, not a history, or busy for too long."""

    slug = "bad-history"


class BadOutput(BadInput):
    """Results cannot be written to the place asked for."""

    slug = "bad-output"


class BadJournal(BadInput):
    """An interrupted run cannot be gone on with: its job, camera or frames have changed since."""

    slug = "bad-journal"


class WorkerLost(RegscanError):
    """A measuring process was ended from outside, most often for want of memory."""

    slug = "worker-lost"


class MissingExtra(RegscanError):
    """An optional package was asked for and is not installed."""

    slug = "missing-extra"

    def __init__(self, purpose: str, package: str, extra: str) -> None:
        super().__init__(
            f"{purpose} needs {package}, which is not installed"
            f' -> pip install "regscan-press[{extra}]"'
        )


class NoCluster(RegscanError):
    """No cluster answers, or its workers cannot do the same work as this machine."""

    slug = "no-cluster"
