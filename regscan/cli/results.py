"""The results folder: its files appear together and whole, or not at all."""

import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from regscan.cli.onlyone import only_one
from regscan.cli.options import OUT
from regscan.errors import BadOutput, Problem
from regscan.wholefile import UNFINISHED

# What regscan writes into a run's folder. A new run takes the old one's place in it.
NAMES = (
    "offsets.csv",
    "marks.csv",
    "offsets.parquet",
    "marks.parquet",
    "corrections.csv",
    "cuts.csv",
    "comparison.json",
    "plan.json",
    "certificate.json",
    "certificate.html",
    "certificate.pdf",
    "register.xjdf",
    "run.json",
    "report.html",
    "gate.xml",
    "overlays",
)


def default_out(sources: Sequence[Path]) -> Path:
    """regscan-out/NAME in the current folder.

    NAME is that of the folder of frames, or of the one picture or table.
    """
    first = sources[0].resolve()
    if first.name in (
        "offsets.csv",
        "offsets.parquet",
    ):  # a table from a run's folder: never back into it
        return OUT / f"{first.parent.name}-table"
    if first.is_dir():
        return OUT / (first.name or "run")
    return OUT / (first.stem if len(sources) == 1 and first.is_file() else first.parent.name)


@contextmanager
def writing_to(path: Path) -> Iterator[None]:
    """Turn the system's refusal to write into BadOutput."""
    try:
        yield
    except OSError as error:
        what = (error.strerror or str(error)).lower()
        cure = "give another folder with --out, or make this one writable with space left"
        raise BadOutput(path, Problem("", f"cannot be written: {what}", cure)) from None


@contextmanager
def new_results(out: Path, names: Sequence[str] = NAMES) -> Iterator[Path]:
    """A folder to write results in, inside `out`; on success they take the old ones' place.

    names   what may be written; older files of these names without a successor go.

    Entering proves that `out` can be written, before any work is done, and keeps other
    runs out of it. On any error `out` is left as it was found, but for a journal that the
    block left beside the results. A run killed on the spot leaves the hidden folder
    UNFINISHED, which the next run clears away.
    """
    made = [folder for folder in (out, *out.parents) if not os.path.exists(folder)]
    unfinished = out / UNFINISHED
    try:
        with writing_to(out):
            unfinished.mkdir(parents=True, exist_ok=True)
        with only_one(unfinished / "lock", out):
            draft = unfinished / "results"
            with writing_to(out):
                shutil.rmtree(draft, ignore_errors=True)
                draft.mkdir()
            try:
                yield draft
                with writing_to(out):
                    _replace(draft, out, names)
                _clear(unfinished)
            finally:
                shutil.rmtree(draft, ignore_errors=True)
    finally:
        for folder in (unfinished, *made):
            if os.path.isdir(folder) and not any(folder.iterdir()):
                folder.rmdir()


def _clear(unfinished: Path) -> None:
    """What was kept for the case of an interruption is needed no longer."""
    for path in unfinished.iterdir():
        if path.is_file() and path.name != "lock":
            path.unlink()


def _replace(draft: Path, out: Path, names: Sequence[str]) -> None:
    """Move what was written over what was there; older results without a successor go."""
    # run.json goes first and comes last: the commands that read the folder start from it,
    # so one that was left halfway is not taken for a run.
    if "run.json" in names:
        (out / "run.json").unlink(missing_ok=True)
    for name in sorted(names, key="run.json".__eq__):
        new, old = draft / name, out / name
        if old.is_dir():
            shutil.rmtree(old)
        if new.exists():
            os.replace(new, old)
        else:
            old.unlink(missing_ok=True)
