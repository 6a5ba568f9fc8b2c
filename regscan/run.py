"""Run: everything measured and decided, and the one file that keeps it (run.json)."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from regscan.camera.camera import Camera
from regscan.drift.drift import Drift
from regscan.errors import BadTable, Problem
from regscan.job.job import Job
from regscan.job.layout import Shape
from regscan.verdict.verdict import Correction, Verdict
from regscan.wholefile import UNFINISHED, write_whole

if TYPE_CHECKING:
    from pydantic import TypeAdapter

FORMAT = 1  # 1: first.


@dataclass(frozen=True, slots=True)
class SkippedFrame:
    """A frame that could not be used at all, and why."""

    frame: str
    why: str


@dataclass(frozen=True, slots=True)
class Inputs:
    """Where everything came from, for the report's last page.

    clock   how frames got their time and web position, in words.
    notes   what was odd about the inputs (gaps, missing columns), in words.
    """

    frames_folder: str
    frames_found: int
    frames_used: int
    skipped: tuple[SkippedFrame, ...]
    clock: str
    notes: tuple[str, ...]
    regscan_version: str
    made_at: str


@dataclass(frozen=True)
class Run:
    """One measured run. The table of offsets lies beside it in offsets.csv."""

    kind: Literal["measure", "ramp"]
    job: Job
    cameras: tuple[Camera, ...]
    inputs: Inputs
    drift: Drift
    corrections: tuple[Correction, ...]
    verdict: Verdict
    format: int = FORMAT


def save_run(run: Run, path: Path) -> None:
    """Write run.json, whole or not at all. Raises BadOutput.

    The file is standard JSON: what is not known is null, since JSON has no NaN.
    """
    document = _adapter().dump_python(run, mode="json")
    # Several shapes have the same measures, so the file must name the shape.
    for design, mark in zip(run.job.marks, document["job"]["marks"], strict=True):
        mark["shape"] = {"kind": type(design.shape).__name__.lower(), **mark["shape"]}
    write_whole(path, json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def load_run(path: Path) -> Run:
    """The run that save_run wrote.

    Raises BadTable for a file that cannot be read, is no run, or was written in
    a format this version does not know.
    """
    document = _document(path)
    number = document.get("format")
    if number != FORMAT or isinstance(number, bool):
        cure = (
            f"this regscan reads format {FORMAT}; measure again, or use the version that wrote it"
        )
        raise BadTable(path, Problem("format", f"{number!r} is not known", cure))
    from pydantic import ValidationError

    try:
        _shape_marks(document)
        return _adapter().validate_python(document)
    except ValidationError as fault:
        raise BadTable(path, [_problem(error) for error in fault.errors()]) from None
    except (KeyError, TypeError, AttributeError):
        cure = "do not edit run.json; measure again"
        raise BadTable(path, Problem("job.marks", "do not name their shapes", cure)) from None


def _adapter() -> "TypeAdapter[Run]":
    # Imported here, since `regscan --help` must not pay for it.
    from pydantic import TypeAdapter

    return TypeAdapter(Run)


def _shape_marks(document: dict[str, Any]) -> None:
    """Turn the named shapes of job.marks into their records, in place."""
    from pydantic import TypeAdapter

    kinds = {kind.__name__.lower(): kind for kind in get_args(Shape)}
    for mark in document["job"]["marks"]:
        kind = kinds[mark["shape"].pop("kind")]
        mark["shape"] = TypeAdapter(kind).validate_python(mark["shape"])


def _document(path: Path) -> dict[str, Any]:
    try:
        document = json.loads(path.read_bytes(), parse_constant=_refuse)
    except OSError as fault:
        cure = "name a folder that regscan measure or regscan ramp wrote"
        if (path.parent / UNFINISHED).is_dir():
            cure = "its run goes on or was interrupted: give the same command again with --resume"
        problem = Problem("", f"cannot be read ({fault.strerror})", cure)
        raise BadTable(path, problem) from None
    except (ValueError, RecursionError) as fault:  # not JSON, or not text
        raise BadTable(path, Problem("", f"is not JSON ({fault})", "measure again")) from None
    if not isinstance(document, dict):
        raise BadTable(path, Problem("", "is JSON, but not a run", "measure again"))
    return document


def _refuse(constant: str) -> float:
    raise ValueError(f"{constant} is no JSON number")


def _problem(error: Any) -> Problem:
    place = ".".join(str(part) for part in error["loc"])
    return Problem(place, str(error["msg"]).lower(), "do not edit run.json; measure again")
