"""Known: what is found out about a frame without regscan's measuring; may be kept on disk.

Sights, the ideal fit and the plain script depend on the bench and the simulator alone, and
are most of the work: kept, a run after a change of the measuring takes a third of the time.
"""

import hashlib
import pickle
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from bench.families.case import Case
from bench.families.ideal import Place, ideal_places
from bench.families.plain import PlainScript
from bench.families.visible import Sight, sights
from regscan.recording.frame import Frame


@dataclass(frozen=True, slots=True)
class Known:
    """Of the marks in the order of the truth's; the plain script's places (row, col) px by ink."""

    sights: list[Sight]
    ideal: list[Place]
    plain: dict[str, tuple[float, float]]
    plain_ms: float


def known_of(family: str, case: Case, frame: Frame, keep: Path | None) -> Known:
    """Worked out, or read from the folder where nothing it depends on has changed."""
    if keep is None:
        return _worked_out(case, frame)
    file = keep / _name(family, frame)
    if file.exists():
        kept: Known = pickle.loads(file.read_bytes())
        return kept
    found = _worked_out(case, frame)
    keep.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(".part")
    part.write_bytes(pickle.dumps(found))
    part.replace(file)
    return found


def _worked_out(case: Case, frame: Frame) -> Known:
    script = PlainScript(case.told, case.scene.camera, mono=case.scene.look.sensor.mono)
    start = time.process_time()
    places = script.measure(frame)
    took_ms = 1000.0 * (time.process_time() - start)
    return Known(sights(case), ideal_places(case, frame), places, took_ms)


def _name(family: str, frame: Frame) -> str:
    """A file's name that changes with the picture and with what is done to it here.

    A simulator that draws otherwise makes another picture; its code is not asked.
    """
    state = hashlib.sha256(_sources())
    state.update(np.ascontiguousarray(frame.pixels).tobytes())
    return f"{family.replace(' ', '_')}_{frame.info.index}_{state.hexdigest()[:16]}.pickle"


@cache
def _sources() -> bytes:
    own = Path(__file__).parent
    return b"".join((own / name).read_bytes() for name in _ASKED)


_ASKED = ("case.py", "drawing.py", "freedoms.py", "ideal.py", "known.py", "plain.py", "visible.py")
