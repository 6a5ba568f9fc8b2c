"""[[press.turning]] of job.toml. Imported by regscan.job.read only: it loads pydantic."""

import math
from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, Strict

from regscan.errors import Problem
from regscan.job.forms import Form, Length, Text, eg
from regscan.job.turning import TurningPart

TOOTH_MM = 3.175  # 1/8 inch of web per tooth, the step of repeats on geared presses
SIZES = ("girth_mm", "diameter_mm", "teeth")


class TurningForm(Form):
    """[[press.turning]]: one of girth_mm, diameter_mm, teeth"""

    name: Text = eg('name = "chill drum 3"')
    station: Annotated[int, Strict()] | None = eg("station = 3", None)
    girth_mm: Length | None = eg("girth_mm = 381.0", None)
    diameter_mm: Length | None = eg("diameter_mm = 80.0", None)
    teeth: Annotated[int, Strict(), Field(ge=5, le=2000)] | None = eg("teeth = 120", None)
    tooth_mm: Length = eg("tooth_mm = 3.175", TOOTH_MM)


def turning_part(form: TurningForm) -> TurningPart | None:
    """The part; None when its size is not given."""
    if form.girth_mm is not None:
        return TurningPart(form.name, form.girth_mm, form.station)
    if form.diameter_mm is not None:
        return TurningPart(form.name, math.pi * form.diameter_mm, form.station)
    if form.teeth is not None:
        return TurningPart(form.name, form.teeth * form.tooth_mm, form.station)
    return None


def turning_problems(form: TurningForm, place: str, stations: int) -> Iterator[Problem]:
    """No size or two of them, a station that is not there."""
    given = [name for name in SIZES if getattr(form, name) is not None]
    if len(given) != 1:
        what = "has no size" if not given else f"has {len(given)} sizes: {', '.join(given)}"
        yield Problem(place, what, "give one of girth_mm, diameter_mm and teeth")
    if form.station is not None and not 1 <= form.station <= stations:
        cure = f"name a station from 1 to {stations}, or leave it out"
        yield Problem(f"{place}.station", f"there is no station {form.station}", cure)
