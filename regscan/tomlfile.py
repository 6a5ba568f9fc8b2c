"""TOML files that people write: read whole, every mistake said with place and cure.

Used by the job and the camera reader. Places count list items from 1, as
stations are counted on the press: `press.stations[3].ink` is the third station.
Nothing here imports pydantic; `explain` only reads the plain records it makes.
"""

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from regscan.errors import BadInput, Problem

LARGEST_BYTES = 4_000_000
_AT = re.compile(r"^(?P<what>.*) \(at (?P<place>line (?P<line>\d+), column \d+|end of document)\)$")


def read_toml(path: Path, error: type[BadInput]) -> dict[str, Any]:
    """The tables of a TOML file; raises `error` when it cannot be read or parsed."""
    text = _text(path, error)
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise error(path, Problem("", "lists nested far too deep", "write plain lists")) from None
    except ValueError as fault:  # TOMLDecodeError, and numbers too long for Python
        raise error(path, _syntax(text, str(fault))) from None


def _text(path: Path, error: type[BadInput]) -> str:
    """The file as text without a byte-order mark."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise error(path, Problem("", "far too large for such a file", "name a TOML file"))
        data = path.read_bytes()
    except (OSError, ValueError) as fault:  # ValueError: a name with a null character
        raise error(path, _unreadable(path, fault)) from None
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        cure = "save the file as UTF-8 text"
        raise error(path, Problem(f"line {line}", "is not UTF-8 text", cure)) from None


def _unreadable(path: Path, fault: Exception) -> Problem:
    if isinstance(fault, FileNotFoundError):
        near = near_files(path)
        cure = f"did you mean {near}?" if near else "check the name and the folder"
        return Problem("", "there is no such file", cure)
    if isinstance(fault, IsADirectoryError):
        return Problem("", "is a folder, not a file", "name the TOML file inside it")
    reason = getattr(fault, "strerror", None) or str(fault)
    return Problem("", f"cannot be read ({reason})", "check the name and the permissions")


def near_files(path: Path) -> str:
    """A file beside `path` with nearly its name, in quotes; "" when there is none."""
    try:
        names = [p.name for p in path.parent.iterdir() if p.is_file()]
    except (OSError, ValueError):
        return ""
    near = difflib.get_close_matches(path.name[:80], names[:1000], n=1)
    return shown(near[0]) if near else ""


def _syntax(text: str, message: str) -> Problem:
    """A parser's complaint with the line it is about."""
    found = _AT.match(message)
    if not found:
        return Problem("", f"is not TOML: {message[:200]}", "see docs/job_file.md for the form")
    line = text.split("\n")[int(found["line"]) - 1] if found["line"] else ""
    wrote = f" in {shown(line.strip())}" if line.strip() else ""
    cure = "text needs quotes, decimals a point, and every table or key may be there only once"
    return Problem(found["place"], f"is not TOML: {found['what'][:200]}{wrote}", cure)


def shown(value: object) -> str:
    """A value as a short quotation for a message; never fails, never longer than a line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # integers longer than Python prints
        return "a value too long to show"
    return text if len(text) <= 60 else f"{text[:56]}..."


def suggest(name: str, known: Iterable[str]) -> str:
    """A cure for a misspelt name: the nearest known one, or the choices there are."""
    choices = list(known)
    by_lower = {choice.lower(): choice for choice in choices}
    near = difflib.get_close_matches(name[:64].lower(), list(by_lower), n=1, cutoff=0.6)
    if near:
        return f"did you mean {shown(by_lower[near[0]])}?"
    listed = ", ".join(choices[:16]) + (", ..." if len(choices) > 16 else "")
    return f"known here: {listed}" if choices else ""


def spot(*parts: str | int) -> str:
    """A place in the file: spot("press", "stations", 2, "ink") is press.stations[3].ink."""
    place = ""
    for part in parts:
        if isinstance(part, int):
            place += f"[{part + 1}]"
        elif part:
            key = part if part.isidentifier() or "[" in part or "." in part else shown(part)
            place += f".{key}" if place else key
    return place


def explain(
    details: Iterable[Mapping[str, Any]], place: str, keys: Mapping[str, str]
) -> list[Problem]:
    """Problems in the words of this tool from pydantic's error records.

    place   where in the file the table stands that was checked.
    keys    every key the table knows, with an example line for the cure.
    """
    return [_explain_one(detail, place, keys) for detail in details]


def _explain_one(detail: Mapping[str, Any], place: str, keys: Mapping[str, str]) -> Problem:
    loc = detail["loc"]
    where, key = spot(place, *loc), str(loc[0]) if loc else ""
    if detail["type"] == "extra_forbidden":
        return Problem(where, "is not a key of this table", suggest(key, keys))
    example = f"write for example: {keys[key]}" if keys.get(key) else ""
    if detail["type"] == "missing":
        return Problem(where, "is missing", example.replace("write", "add", 1))
    if detail["type"] == "literal_error":
        choices = re.findall(r"'([^']*)'", str(detail["ctx"]["expected"]))
        named = [choice for choice in choices if choice]
        cure = suggest(str(detail["input"])[:64], named)
        return Problem(where, f"cannot be {shown(detail['input'])}", cure)
    limits = {name: _plain(limit) for name, limit in detail.get("ctx", {}).items()}
    wanted = _WANTED.get(detail["type"], "{msg}").format(**{"msg": detail["msg"], **limits})
    return Problem(where, f"{wanted}, not {shown(detail['input'])}", example)


def _plain(limit: object) -> str:
    """A limit as people write it: 0.00001 and not 1e-05."""
    if isinstance(limit, float):
        return f"{limit:.6f}".rstrip("0").rstrip(".")
    return str(limit)


_WANTED = {
    "bool_type": "must be true or false",
    "float_type": "must be a number without quotes",
    "int_type": "must be a whole number without quotes",
    "string_type": "must be text in quotes",
    "list_type": "must be a list in square brackets",
    "tuple_type": "must be a list in square brackets",
    "finite_number": "must be a finite number",
    "greater_than": "must be more than {gt}",
    "greater_than_equal": "must be {ge} or more",
    "less_than": "must be less than {lt}",
    "less_than_equal": "must be {le} or less",
    "too_short": "must hold at least {min_length} values",
    "too_long": "must hold at most {max_length} values",
    "string_too_short": "must not be empty",
    "string_too_long": "must be at most {max_length} letters",
    "string_pattern_mismatch": "must be plain text with no blanks at its ends and no line breaks",
}
