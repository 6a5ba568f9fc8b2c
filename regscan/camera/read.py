"""camera.toml <-> Camera. docs/camera_file.md shows a whole file with every key."""

import json
import re
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, Strict, ValidationError

from regscan.camera.camera import Camera, Direction, Mosaic, Tone
from regscan.camera.tables import direction_lines, direction_of, lens_lines, lens_of
from regscan.errors import BadCamera, Problem
from regscan.tomlfile import explain, read_toml, shown
from regscan.wholefile import write_whole

FORMAT = 1

# The [direction] table with its keys, up to the next table.
_DIRECTION = re.compile(
    r"^[ \t]*\[direction\][^\n]*\n(?:(?![ \t]*\[)[^\n]*(?:\n|\Z))*", re.MULTILINE
)

_ACROSS = {"up": "left or right", "down": "left or right"}

# Bounds far beyond any mark camera: they catch micrometres written as millimetres.
PixelSize = Annotated[float, Strict(), Field(ge=1e-5, le=1.0, allow_inf_nan=False)]
Turn = Annotated[float, Strict(), Field(ge=-45, le=45, allow_inf_nan=False)]


class CameraFile(BaseModel):
    """Every key of camera.toml; the pixel size is one number or two."""

    model_config = ConfigDict(extra="forbid")

    format: Annotated[int, Strict()] = Field(examples=["format = 1"])
    name: Annotated[str, Strict(), Field(max_length=64)] = Field("", examples=['name = "end"'])
    mm_per_px: PixelSize | None = Field(None, examples=["mm_per_px = 0.012"])
    row_mm_per_px: PixelSize | None = Field(None, examples=["row_mm_per_px = 0.012"])
    col_mm_per_px: PixelSize | None = Field(None, examples=["col_mm_per_px = 0.012"])
    web_travel: Direction = Field(examples=['web_travel = "up"'])
    drive_side: Direction = Field(examples=['drive_side = "right"'])
    rotation_deg: Turn = Field(0.0, examples=["rotation_deg = 0.0"])
    tone: Tone = Field("srgb", examples=['tone = "srgb"'])
    mosaic: Mosaic = Field("", examples=['mosaic = "rggb"'])


def read_camera(path: Path) -> Camera:
    """The camera in a file. Raises BadCamera naming every problem found, never another error."""
    path = Path(path)
    raw = read_toml(path, BadCamera)
    number = raw.get("format", FORMAT)
    if isinstance(number, int) and not isinstance(number, bool) and number != FORMAT:
        what = f"is {shown(number)}, and this regscan reads format {FORMAT}"
        cure = f"write format = {FORMAT}, or update regscan"
        raise BadCamera(path, Problem("format", what, cure))
    problems = _size_problems(raw) + _direction_problems(raw)
    lens = lens_of(raw.pop("lens", None), problems)
    direction = direction_of(raw.pop("direction", None), problems)
    try:
        form = CameraFile.model_validate(raw)
    except ValidationError as fault:
        keys = {name: (i.examples or [""])[0] for name, i in CameraFile.model_fields.items()}
        keys |= {"lens": "[lens]", "direction": "[direction]"}
        problems = explain(fault.errors(include_url=False), "", keys) + problems
    if problems:
        raise BadCamera(path, problems)
    return Camera(
        row_mm_per_px=form.row_mm_per_px or form.mm_per_px or 0.0,
        col_mm_per_px=form.col_mm_per_px or form.mm_per_px or 0.0,
        web_travel=form.web_travel,
        drive_side=form.drive_side,
        rotation_deg=form.rotation_deg,
        tone=form.tone,
        mosaic=form.mosaic,
        name=form.name,
        lens=lens,
        direction=direction,
    )


def _size_problems(raw: dict[str, Any]) -> list[Problem]:
    """The pixel size is given once: for both directions together, or for each."""
    two = [key for key in ("row_mm_per_px", "col_mm_per_px") if key in raw]
    cure = "give mm_per_px alone, or row_mm_per_px and col_mm_per_px"
    if "mm_per_px" in raw and two:
        return [Problem("mm_per_px", f"is given beside {' and '.join(two)}", cure)]
    if "mm_per_px" not in raw and len(two) < 2:
        lacking = "col_mm_per_px" if two == ["row_mm_per_px"] else "row_mm_per_px"
        place = lacking if two else "mm_per_px"
        return [Problem(place, "is missing", cure)]
    return []


def _direction_problems(raw: dict[str, Any]) -> list[Problem]:
    """The drive side lies across the web's travel."""
    travel, side = raw.get("web_travel"), raw.get("drive_side")
    upright = ("up", "down")
    known = (*upright, "left", "right")
    if travel not in known or side not in known or (travel in upright) != (side in upright):
        return []
    cure = f"with web_travel = {shown(travel)} it is {_ACROSS.get(str(travel), 'up or down')}"
    return [Problem("drive_side", f"{shown(side)} lies along the web's travel", cure)]


def write_camera(camera: Camera, path: Path) -> None:
    """Write the camera so that read_camera gives it back exactly; whole or not at all.

    Raises BadOutput when the place cannot be written to.
    """
    write_whole(Path(path), _as_toml(camera))


def write_direction(camera: Camera, path: Path, to: Path) -> None:
    """Write the camera file at `path` to `to` with this camera's direction check in it.

    All else in the file, comments too, stays as it was. Whole or not at all; raises
    BadCamera when there is no such file, BadOutput when `to` cannot be written.
    """
    read_camera(path)
    text = Path(path).read_text(encoding="utf-8-sig")
    kept = _DIRECTION.sub("", text).rstrip("\n")
    lines = direction_lines(camera.direction) if camera.direction else ()
    whole = "\n".join([kept, *lines]) + "\n"
    write_whole(Path(to), whole)


def _as_toml(camera: Camera) -> str:
    def text(value: str) -> str:
        return json.dumps(value, ensure_ascii=False)

    lines = ["# How this camera's pixels lie on the web; see docs/camera_file.md", "format = 1"]
    if camera.name:
        lines.append(f"name = {text(camera.name)}")
    if camera.row_mm_per_px == camera.col_mm_per_px:
        lines.append(f"mm_per_px = {float(camera.row_mm_per_px)!r}")
    else:
        lines.append(f"row_mm_per_px = {float(camera.row_mm_per_px)!r}")
        lines.append(f"col_mm_per_px = {float(camera.col_mm_per_px)!r}")
    lines += [
        f"web_travel = {text(camera.web_travel)}   # where the web moves to in the image",
        f"drive_side = {text(camera.drive_side)}   # where the press's drive side lies in it",
        f"rotation_deg = {float(camera.rotation_deg)!r}   # web travel turned clockwise",
        f"tone = {text(camera.tone)}",
        f"mosaic = {text(camera.mosaic)}",
    ]
    lines += lens_lines(camera.lens) if camera.lens else []
    lines += direction_lines(camera.direction) if camera.direction else []
    return "\n".join(lines) + "\n"
