"""The taught job file: the old one with what was learnt in it, comments kept where they can be."""

import os
import re
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from regscan.errors import BadJob, Problem
from regscan.instrument.taught import Taught, TaughtColour
from regscan.instrument.teach import apply
from regscan.job.job import Job, Zero
from regscan.job.layout import Approved
from regscan.job.read import read_job
from regscan.wholefile import write_whole

_COLOUR_KEYS = ("lab", "srgb", "taught", "camera")
_PLACE_KEYS = ("approved_mm", "approved_sd_mm")


def write_taught_job(job: Job, taught: Taught, zero: Zero, path: Path) -> Job:
    """Write the job with what was learnt, whole or not at all; returns it as read back.

    job    as read from its file, whose text is taken over with its comments.
    Raises BadOutput when the place cannot be written, BadJob (and writes nothing) when
    the new text would not say what was learnt.
    """
    source = Path(job.path)
    text = taught_text(source.read_text(encoding="utf-8-sig"), job, taught, zero)
    text = _with_camera_files(text, source, path)
    written = _read_back(text, path, apply(job, taught, zero))
    write_whole(path, text)
    return written


def taught_text(text: str, job: Job, taught: Taught, zero: Zero) -> str:
    """A job file's text with the colours, overprints, places and zero in it."""
    import tomlkit

    document: Any = tomlkit.parse(_with_zero(text, zero))
    document["substrate"] = _coloured(document["substrate"], taught.substrate)
    for ink, colour in taught.inks.items():
        document["inks"][ink] = _coloured(document["inks"][ink], colour)
    _set_overprints(document, taught)
    approved = {(m.ink, m.edge): m.approved for m in taught.marks}
    for number, mark in enumerate(job.marks):
        place = approved.get((mark.ink, mark.edge))
        if place is not None:
            document["marks"][number] = _placed(document["marks"][number], place)
    return tomlkit.dumps(document)


def _with_zero(text: str, zero: Zero) -> str:
    """The key among the first ones: below a table's heading it would belong to the table."""
    import tomlkit

    wanted = {**tomllib.loads(text), "zero": zero}
    if "zero" not in tomllib.loads(text):
        if zero == "design":
            return text
        line = (
            f'\\g<0>\nzero = "{zero}"   # what an offset of 0 means: as the approved sheet has it'
        )
        placed = re.sub(r"^reference\s*=.*$", line, text, count=1, flags=re.MULTILINE)
        if _says(placed, wanted):
            return placed
    document = tomlkit.parse(text)
    document["zero"] = zero
    return tomlkit.dumps(document)


def _says(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _coloured(table: Any, colour: TaughtColour, after: str = "") -> Any:
    """The table with the taught colour where its colour stood."""
    frames = f"{colour.frames} frame{'' if colour.frames == 1 else 's'}"
    spread = "" if colour.spread is None else f", spread {colour.spread:.2f} CIEDE2000"
    comment = f"learnt from {frames}{spread}"
    keys = {"taught": True, "camera": list(colour.camera)}
    return _with_keys(table, _COLOUR_KEYS, keys, comment, after)


def _placed(table: Any, place: Approved) -> Any:
    return _with_keys(
        table,
        _PLACE_KEYS,
        {
            "approved_mm": [place.circumferential_mm, place.lateral_mm],
            "approved_sd_mm": [place.circumferential_sd_mm, place.lateral_sd_mm],
        },
        "place on the approved sheet, off the design",
        after="at_mm",
    )


def _with_keys(
    table: Any, old: tuple[str, ...], new: dict[str, Any], comment: str, after: str = ""
) -> Any:
    """The table with `new` keys where the first of the `old` ones stood, or after a key."""
    import tomlkit
    from tomlkit.items import Table

    first = next((key for key in table if key in old), after)
    # Only a table under a heading of its own can be made anew in its place.
    if not isinstance(table, Table) or table.is_super_table() or not first:
        for key in [key for key in table if key in old]:
            del table[key]
        table.update(new)
        return table
    made = tomlkit.table()
    for key, item in table.value.body:
        name = None if key is None else key.key
        if name not in old:
            made.add(*((item,) if key is None else (key, item)))
        if name == first:
            for added, value in new.items():
                made.add(added, value)
            made[next(reversed(new))].comment(comment)
    made.trivia.comment_ws, made.trivia.comment = table.trivia.comment_ws, table.trivia.comment
    return made


def _set_overprints(document: Any, taught: Taught) -> None:
    """All overprints seen; given ones go, since they do not share the taught colours' scale."""
    import tomlkit

    if not taught.overprints:
        document.pop("overprints", None)
        return
    tables = tomlkit.aot()
    for inks, colour in taught.overprints.items():
        table = tomlkit.table()
        table.add("inks", [ink for ink in taught.inks if ink in inks])
        tables.append(_coloured(table, colour, after="inks"))
    for remark in _below(document.get("overprints")):
        tables[-1].add(remark)
    document["overprints"] = tables


def _below(tables: Any) -> list[Any]:
    """Comments and blank lines below the last of several tables: they belong to what follows."""
    from tomlkit.items import AoT

    if not isinstance(tables, AoT):
        return []
    body = tables[-1].value.body
    last = max(k for k, (key, _) in enumerate(body) if key is not None)
    return [item for _, item in body[last + 1 :]]


def _with_camera_files(text: str, source: Path, path: Path) -> str:
    """The cameras' files are looked for beside the job: from another folder, another way."""
    import tomlkit

    here, there = source.resolve().parent, path.resolve().parent
    if here == there:
        return text
    document: Any = tomlkit.parse(text)
    for camera in document["press"].get("cameras", []):
        if camera.get("file"):
            camera["file"] = Path(os.path.relpath(here / camera["file"], there)).as_posix()
    return tomlkit.dumps(document)


def _read_back(text: str, path: Path, wanted: Job) -> Job:
    """The job the text says; it must be the one that was learnt."""
    with tempfile.TemporaryDirectory() as folder:
        draft = Path(folder) / path.name
        draft.write_text(text, encoding="utf-8")
        written = replace(read_job(draft), path=str(path))
    # Camera files may be written another way, and so lie under another path.
    if replace(written, path=wanted.path, press=wanted.press) != wanted:
        cure = "write inks as [inks.NAME] and marks as [[marks]], as in docs/job_file.md"
        problem = Problem("", "is written in a form that cannot be filled in", cure)
        raise BadJob(wanted.path, problem)
    return written
