"""What each table of job.toml may hold: its keys, their types and their bounds.

One flat form per table, so that a mistake in one table never hides another's.
Imported by regscan.job.read only: pydantic is not loaded before a job is read.
The bounds are far beyond any press; they keep arithmetic on nonsense finite.
"""

from dataclasses import fields
from functools import cache
from typing import Annotated, Any, Literal, cast

from pydantic import BaseModel, ConfigDict, Field, Strict, create_model

from regscan.job.shapes import SHAPES

Text = Annotated[
    str,
    Strict(),
    Field(min_length=1, max_length=64, pattern=r"^[^\s\p{C}]([^\p{C}]*[^\s\p{C}])?$"),
]
Number = Annotated[float, Strict(), Field(allow_inf_nan=False)]
Length = Annotated[Number, Field(gt=0, le=1e5)]
Measure = Annotated[Number, Field(ge=1e-3, le=1e3)]
Place = Annotated[Number, Field(ge=-1e5, le=1e5)]
Path = Annotated[Number, Field(ge=0, le=1e4)]
Play = Annotated[Number, Field(ge=0, le=10)]
Turn = Annotated[Number, Field(ge=-360, le=360)]
Three = Annotated[list[Number], Field(min_length=3, max_length=3)]
Pair = Annotated[list[Place], Field(min_length=2, max_length=2)]
Doubts = Annotated[list[Annotated[Number, Field(ge=0, le=1e3)]], Field(min_length=2, max_length=2)]
Points = Annotated[list[Pair], Field(min_length=3, max_length=200)]
Edge = Literal["", "operator", "drive"]


class Form(BaseModel):
    """One table; a key it does not know is a mistake, not a wish."""

    model_config = ConfigDict(extra="forbid")


def eg(line: str, default: Any = ...) -> Any:
    """A key with the example line that a message shows as the cure."""
    return Field(default, examples=[line])


def known_keys(form: type[BaseModel]) -> dict[str, str]:
    """The form's keys, each with its example line ("" when it has none)."""
    return {name: (info.examples or [""])[0] for name, info in form.model_fields.items()}


class JobForm(Form):
    """The top of the file; tables are checked by forms of their own."""

    format: Annotated[int, Strict()] = eg("format = 1")
    name: Text = eg('name = "Honey jar, six colours"')
    reference: Text = eg('reference = "black"')
    press: Any = eg("[press]")
    substrate: Any = eg("[substrate]")
    inks: Any = eg("[inks.cyan]")
    marks: Any = eg("[[marks]]")
    tolerance: Any = eg("[tolerance]")
    correction: Any = eg("[correction]", None)
    overprints: Any = eg("[[overprints]]", None)
    zero: Literal["design", "approved"] = eg('zero = "design"', "design")
    gate: Any = eg("[gate]", None)
    acceptance: Any = eg("[acceptance]", None)


class PressForm(Form):
    """[press]"""

    name: Text = eg('name = "Press 2"')
    repeat_mm: Length = eg("repeat_mm = 304.8")
    web_width_mm: Length = eg("web_width_mm = 330.0")
    edge_spacing_mm: Length | None = eg("edge_spacing_mm = 310.0", None)
    stations: Any = eg("[[press.stations]]")
    cameras: Any = eg("[[press.cameras]]", None)
    turning: Any = eg("[[press.turning]]", None)


class StationForm(Form):
    """[[press.stations]]"""

    ink: Text = eg('ink = "cyan"')
    path_m: Path | None = eg("path_m = 1.0", None)
    circumferential_step_mm: Length | None = eg("circumferential_step_mm = 0.01", None)
    lateral_step_mm: Length | None = eg("lateral_step_mm = 0.01", None)
    circumferential_play_mm: Play | None = eg("circumferential_play_mm = 0.03", None)
    lateral_play_mm: Play | None = eg("lateral_play_mm = 0.0", None)
    locked: Annotated[bool, Strict()] = eg("locked = true", False)
    grips: Annotated[bool, Strict()] | None = eg("grips = true", None)


class CameraForm(Form):
    """[[press.cameras]]"""

    name: Text = eg('name = "end"')
    after_station: Annotated[int, Strict()] = eg("after_station = 6")
    path_m: Path = eg("path_m = 2.0")
    edge: Edge = eg('edge = "operator"', "")
    file: Annotated[str, Strict(), Field(max_length=1000)] = eg('file = "camera.toml"', "")


class ColourForm(Form):
    """[substrate], and the colour keys of an ink"""

    lab: Three | None = eg("lab = [55.0, -37.0, -50.0]", None)
    srgb: Any = eg('srgb = "#f4f4f0"', None)
    taught: Annotated[bool, Strict()] = eg("taught = true", False)
    camera: Three | None = eg("camera = [0.20, 0.45, 0.70]", None)


class InkForm(ColourForm):
    """[inks.NAME]"""

    cover: Literal["transparent", "opaque", "invisible"] = eg('cover = "opaque"', "transparent")


class OverprintForm(ColourForm):
    """[[overprints]]"""

    inks: Annotated[list[Text], Field(min_length=2, max_length=16)] = eg(
        'inks = ["cyan", "yellow"]'
    )


class MarkForm(Form):
    """[[marks]], the keys every shape has"""

    ink: Text = eg('ink = "cyan"')
    shape: Any = eg('shape = "disc"')
    at_mm: Pair = eg("at_mm = [0.0, 1.2]")
    edge: Edge = eg('edge = "operator"', "")
    approved_mm: Pair | None = eg("approved_mm = [0.012, -0.020]", None)
    approved_sd_mm: Doubts | None = eg("approved_sd_mm = [0.001, 0.001]", None)


class LooseMarkForm(MarkForm):
    """A mark whose shape is not known, so its measures cannot be either."""

    model_config = ConfigDict(extra="ignore")


class ToleranceForm(Form):
    """[tolerance]"""

    circumferential_mm: Length = eg("circumferential_mm = 0.10")
    lateral_mm: Length = eg("lateral_mm = 0.10")
    source: Annotated[str, Strict(), Field(max_length=500)] = eg('source = "house rule"', "")
    inks: Any = eg("[tolerance.inks.white]", None)


class InkToleranceForm(Form):
    """[tolerance.inks.NAME]: what is left out is taken from [tolerance]"""

    circumferential_mm: Length | None = eg("circumferential_mm = 0.20", None)
    lateral_mm: Length | None = eg("lateral_mm = 0.20", None)
    source: Annotated[str, Strict(), Field(max_length=500)] | None = eg(
        'source = "agreed with customer"', None
    )


class CorrectionForm(Form):
    """[correction]"""

    circumferential_step_mm: Length = eg("circumferential_step_mm = 0.01", 0.01)
    lateral_step_mm: Length = eg("lateral_step_mm = 0.01", 0.01)
    circumferential_play_mm: Play = eg("circumferential_play_mm = 0.03", 0.0)
    lateral_play_mm: Play = eg("lateral_play_mm = 0.0", 0.0)
    grips: Annotated[bool, Strict()] = eg("grips = false", False)
    words: Any = eg("[correction.words]", None)


@cache
def measures_form(shape: str) -> type[Form]:
    """The form of a shape's own measures, the keys that a mark has besides MarkForm's.

    Apart from MarkForm and made when asked for: a class with all keys for each shape
    was a tenth of the time in which a mistake in a job file is answered.
    """
    measures: dict[str, Any] = {}
    for field in fields(SHAPES[shape]):
        if field.name == "turn_deg":
            measures[field.name] = (Turn, eg("turn_deg = 45.0", 0.0))
        elif field.name == "points_mm":
            line = "points_mm = [[0.5, 0.0], [-0.3, 0.4], [-0.3, -0.4]]"
            measures[field.name] = (Points, eg(line))
        else:
            measures[field.name] = (Measure, eg(f"{field.name} = 0.6"))
    make = cast(Any, create_model)
    return cast(type[Form], make(f"{shape.capitalize()}Form", __base__=Form, **measures))
