"""What runs on a worker: one chunk of frames, by what this run has prepared there."""

import pickle
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from regscan.cluster.standing import check_standing, size_of, standing

# What each thread of this worker process has prepared, for the one run it serves.
_prepared = threading.local()


@dataclass(frozen=True, slots=True)
class Run:
    """One map over a cluster: its name, the pickled `prepare`, what its workers must stand on."""

    name: str
    prepare: bytes
    standing: dict[str, str]


@dataclass(frozen=True, slots=True)
class Done:
    """A chunk's results, and the size in bytes of each thing's file as this worker saw it."""

    worker: str
    results: list[Any]
    sizes: list[int]


def seen(path: str) -> tuple[dict[str, str], int]:
    """What this worker stands on, and the size of a file as it sees it."""
    return standing(), size_of(Path(path))


def do_chunk(run: Run, chunk: Sequence[Any]) -> Done:
    """Work on every thing of a chunk. Raises NoCluster where this worker may not."""
    from distributed import get_worker

    worker = get_worker().address
    check_standing(worker, standing(), run.standing)
    sizes = [size_of(thing.path) for thing in chunk]
    if getattr(_prepared, "name", "") != run.name:
        _prepared.work, _prepared.name = pickle.loads(run.prepare)(), run.name
    return Done(worker, [_prepared.work(thing) for thing in chunk], sizes)
