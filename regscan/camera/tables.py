"""The [lens] and [direction] tables of camera.toml: to records and back."""

import json
from collections.abc import Iterator
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, Strict, ValidationError

from regscan.camera.direction import DirectionCheck
from regscan.camera.lens import CalibrationDoubt, LateralColour, Lens
from regscan.errors import Problem
from regscan.tomlfile import explain, shown

# A corner is not moved by more than this on any lens that a mark camera would have.
Bend = Annotated[float, Strict(), Field(ge=-2000.0, le=2000.0, allow_inf_nan=False)]
Pair = Annotated[tuple[Bend, Bend], Field()]
Shift = Annotated[float, Strict(), Field(ge=-50.0, le=50.0, allow_inf_nan=False)]
Doubt = Annotated[float, Strict(), Field(ge=0.0, le=1e6, allow_inf_nan=False)]
Size = Annotated[int, Strict(), Field(ge=16, le=100_000)]
Step = Annotated[float, Strict(), Field(ge=-10.0, le=10.0, allow_inf_nan=False)]
Name = Annotated[str, Strict(), Field(min_length=1, max_length=64)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid")


class LensTable(_Table):
    """[lens]: sizes in px at the frame's corner, as the record regscan.camera.lens.Lens."""

    rows_px: Size = Field(examples=["rows_px = 1024"])
    cols_px: Size = Field(examples=["cols_px = 1280"])
    centre_px: Pair = Field(examples=["centre_px = [511.5, 639.5]"])
    radial_px: Annotated[tuple[Bend, ...], Field(max_length=3)] = Field(
        (), examples=["radial_px = [2.5]"]
    )
    tangential_px: Pair = Field((0.0, 0.0), examples=["tangential_px = [0.0, 0.0]"])
    keystone_px: Pair = Field((0.0, 0.0), examples=["keystone_px = [0.0, 0.0]"])
    shear_px: Bend = Field(0.0, examples=["shear_px = 0.0"])


class ColourTable(_Table):
    """[lens.red] and [lens.blue]."""

    row_px: Shift = Field(0.0, examples=["row_px = 0.0"])
    col_px: Shift = Field(0.0, examples=["col_px = 0.0"])
    scale_px: Shift = Field(0.0, examples=["scale_px = 0.5"])
    cubic_px: Shift = Field(0.0, examples=["cubic_px = 0.0"])


class DoubtTable(_Table):
    """[lens.doubt]: one standard deviation each."""

    circumferential_scale_ppm: Doubt = Field(0.0, examples=["circumferential_scale_ppm = 20.0"])
    lateral_scale_ppm: Doubt = Field(0.0, examples=["lateral_scale_ppm = 20.0"])
    rotation_deg: Doubt = Field(0.0, examples=["rotation_deg = 0.01"])
    residual_px: Doubt = Field(0.0, examples=["residual_px = 0.01"])
    colour_px: Doubt = Field(0.0, examples=["colour_px = 0.01"])


class DirectionTable(_Table):
    """[direction]: what the known step was, and what was seen of it."""

    ink: Name = Field(examples=['ink = "cyan"'])
    circumferential_moved_mm: Step | None = Field(
        None, examples=["circumferential_moved_mm = -0.1"]
    )
    circumferential_seen_mm: Step | None = Field(None, examples=["circumferential_seen_mm = -0.1"])
    circumferential_sd_mm: Doubt | None = Field(None, examples=["circumferential_sd_mm = 0.002"])
    lateral_moved_mm: Step | None = Field(None, examples=["lateral_moved_mm = 0.1"])
    lateral_seen_mm: Step | None = Field(None, examples=["lateral_seen_mm = 0.1"])
    lateral_sd_mm: Doubt | None = Field(None, examples=["lateral_sd_mm = 0.002"])


def lens_of(raw: object, problems: list[Problem]) -> Lens | None:
    """The lens of a [lens] table; adds to `problems` what is wrong with it."""
    table = _table(raw, "lens", problems)
    if table is None:
        return None
    known = len(problems)
    inner = {
        name: _form(table.get(name), form, f"lens.{name}", problems)
        for name, form in (("red", ColourTable), ("blue", ColourTable), ("doubt", DoubtTable))
    }
    own = _form({k: v for k, v in table.items() if k not in inner}, LensTable, "lens", problems)
    if len(problems) > known or own is None:
        return None
    lens = Lens(
        **own,
        red=LateralColour(**(inner["red"] or {})),
        blue=LateralColour(**(inner["blue"] or {})),
        doubt=CalibrationDoubt(**(inner["doubt"] or {})),
    )
    if folds(lens):
        what = "bends the frame over itself: two places would be one"
        problems.append(Problem("lens", what, "calibrate again; do not edit this table"))
    return lens


def direction_of(raw: object, problems: list[Problem]) -> DirectionCheck | None:
    """The check of a [direction] table; adds to `problems` what is wrong with it."""
    table = _table(raw, "direction", problems)
    form = None if table is None else _form(table, DirectionTable, "direction", problems)
    return None if form is None else DirectionCheck(**form)


def _table(raw: object, place: str, problems: list[Problem]) -> dict[str, Any] | None:
    if raw is None or isinstance(raw, dict):
        return raw
    problems.append(
        Problem(
            place, f"must be a table, not {shown(raw)}", f"write [{place}] on a line of its own"
        )
    )
    return None


def _form(
    raw: object, form: type[BaseModel], place: str, problems: list[Problem]
) -> dict[str, Any] | None:
    table = _table(raw, place, problems)
    if table is None:
        return None
    try:
        return form.model_validate(table).model_dump()
    except ValidationError as fault:
        keys = {name: (i.examples or [""])[0] for name, i in form.model_fields.items()}
        problems += explain(fault.errors(include_url=False), place, keys)
        return None


def folds(lens: Lens) -> bool:
    """True where the lens is no picture of the web: somewhere it turns over or blows up."""
    for row_share in range(9):
        for col_share in range(9):
            row, col = lens.rows_px * row_share / 8.0, lens.cols_px * col_share / 8.0
            here, below, right = (
                lens.straight(row + down, col + along) for down, along in ((0, 0), (1, 0), (0, 1))
            )
            area = (below[0] - here[0]) * (right[1] - here[1]) - (below[1] - here[1]) * (
                right[0] - here[0]
            )
            if not 0.2 < area < 5.0:
                return True
    return False


def lens_lines(lens: Lens) -> Iterator[str]:
    """The lines of [lens] and its parts."""
    yield from ("", "[lens]   # what bends the picture: px at the frame's corner")
    for name in LensTable.model_fields:
        yield f"{name} = {_number(getattr(lens, name))}"
    for part, form in (("red", ColourTable), ("blue", ColourTable), ("doubt", DoubtTable)):
        record = getattr(lens, part)
        yield from ("", f"[lens.{part}]{_MEANING[part]}")
        yield from (f"{name} = {_number(getattr(record, name))}" for name in form.model_fields)


_MEANING = {
    "red": "   # where red lies against green",
    "blue": "   # where blue lies against green",
    "doubt": "   # one standard deviation each",
}


def direction_lines(check: DirectionCheck) -> Iterator[str]:
    """The lines of [direction]; an axis that was not checked has none."""
    yield from ("", "[direction]   # a known step, and what was seen of it")
    yield f"ink = {json.dumps(check.ink, ensure_ascii=False)}"
    for name in DirectionTable.model_fields:
        value = getattr(check, name)
        if name != "ink" and value is not None:
            yield f"{name} = {_number(value)}"


def _number(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_number, value))}]"
    return repr(value) if isinstance(value, int) else repr(float(value))
