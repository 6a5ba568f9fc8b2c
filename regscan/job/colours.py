"""A colour as the job file writes it: lab, srgb or taught; exactly one of them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from regscan.errors import Problem
from regscan.job.job import Colour
from regscan.tomlfile import shown

_HEX = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})")
_CHOICES = 'give one of: lab = [L, a, b], srgb = "#rrggbb", taught = true'
_LAB_RANGE = ((0.0, 100.0), (-150.0, 150.0), (-150.0, 150.0))


@dataclass(frozen=True, slots=True)
class Written:
    """The colour keys of one table as they were written; None or False where absent."""

    lab: Sequence[float] | None
    srgb: object
    taught: bool
    camera: Sequence[float] | None


def read_colour(written: Written, required: bool) -> tuple[Colour | None, list[Problem]]:
    """The colour, or what is wrong with it; places are keys within the table."""
    given = [
        key
        for key, there in (
            ("lab", written.lab is not None),
            ("srgb", written.srgb is not None),
            ("taught", written.taught),
        )
        if there
    ]
    if written.camera is not None and not written.taught:
        cure = "add taught = true, or remove camera"
        return None, [Problem("camera", "belongs to a taught colour", cure)]
    if len(given) > 1:
        return None, [Problem("", f"its colour is given as {' and '.join(given)}", "keep one")]
    if not given:
        return None, [Problem("", "has no colour", _CHOICES)] if required else []
    return {"lab": _lab, "srgb": _srgb, "taught": _taught}[given[0]](written)


def _three(values: Sequence[float]) -> tuple[float, float, float]:
    one, two, three = (float(value) for value in values)
    return one, two, three


def _lab(written: Written) -> tuple[Colour | None, list[Problem]]:
    assert written.lab is not None
    wrong = [
        Problem(
            f"lab[{number}]",
            f"{name} must lie in {low:g} to {high:g}, not {shown(value)}",
            "give CIE Lab as a colour meter shows it: lab = [L, a, b]",
        )
        for number, (name, value, (low, high)) in enumerate(
            zip("Lab", written.lab, _LAB_RANGE, strict=True), start=1
        )
        if not low <= value <= high
    ]
    return (None, wrong) if wrong else (Colour("lab", _three(written.lab)), [])


def _srgb(written: Written) -> tuple[Colour | None, list[Problem]]:
    value = written.srgb
    if isinstance(value, str) and (found := _HEX.fullmatch(value)):
        return Colour("srgb", _three([int(part, 16) for part in found.groups()])), []
    if isinstance(value, list) and len(value) == 3 and all(_is_byte(part) for part in value):
        return Colour("srgb", _three(value)), []
    cure = 'write srgb = "#f4f4f0" or srgb = [244, 244, 240], each from 0 to 255'
    return None, [Problem("srgb", f"is not a colour: {shown(value)}", cure)]


def _is_byte(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 255


def _taught(written: Written) -> tuple[Colour | None, list[Problem]]:
    if written.camera is None:
        return Colour("taught", None), []
    if not all(0.0 <= value <= 1.0 for value in written.camera):
        cure = "camera values are shares of full scale; teach the colour again"
        return None, [Problem("camera", "must lie in 0 to 1", cure)]
    return Colour("taught", _three(written.camera)), []
