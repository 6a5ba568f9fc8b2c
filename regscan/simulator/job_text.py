"""A Job as the text of a job.toml, for runs of invented presses that no file describes."""

import json
from collections.abc import Mapping
from dataclasses import fields
from itertools import chain

from regscan.job.job import Colour, Job
from regscan.job.layout import MarkDesign
from regscan.job.shapes import SHAPES


def job_toml(job: Job) -> str:
    """The job's file. What the bank's presses do not have (overprints, approved places,
    tolerances of single inks, points of polygons) is left out."""
    press = job.press
    sections = [
        _table("", {"format": 1, "name": job.name, "reference": job.reference}),
        _table(
            "[press]",
            {
                "name": press.name,
                "repeat_mm": press.repeat_mm,
                "web_width_mm": press.web_width_mm,
            },
        ),
        *(
            _table("[[press.stations]]", {"ink": s.ink} | ({"path_m": s.path_m} if k else {}))
            for k, s in enumerate(press.stations)
        ),
        *(
            _table(
                "[[press.cameras]]",
                {"name": post.name, "after_station": post.after_station, "path_m": post.path_m}
                | ({"edge": post.edge} if post.edge else {}),
            )
            for post in press.cameras
        ),
        _table("[substrate]", _colour(job.substrate)),
        *(
            _table(f"[inks.{json.dumps(ink.name)}]", _colour(ink.colour) | {"cover": ink.cover})
            for ink in job.inks
        ),
        *(_table("[[marks]]", _mark(mark)) for mark in job.marks),
        _table(
            "[tolerance]",
            {
                "circumferential_mm": job.tolerance.circumferential_mm,
                "lateral_mm": job.tolerance.lateral_mm,
                "source": job.tolerance.source,
            },
        ),
    ]
    return "\n".join(chain.from_iterable([*section, ""] for section in sections)).lstrip("\n")


def _table(head: str, values: Mapping[str, object]) -> list[str]:
    # JSON's numbers, strings and lists are TOML's too.
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in values.items()]
    return [head, *lines] if head else lines


def _colour(colour: Colour | None) -> dict[str, object]:
    if colour is None or colour.values is None:
        return {}
    return {colour.space: list(colour.values)}


def _mark(mark: MarkDesign) -> dict[str, object]:
    name = next(key for key, kind in SHAPES.items() if isinstance(mark.shape, kind))
    measures = {f.name: getattr(mark.shape, f.name) for f in fields(mark.shape)}
    place = [mark.circumferential_mm, mark.lateral_mm]
    edge: dict[str, object] = {"edge": mark.edge} if mark.edge else {}
    return {"ink": mark.ink, "shape": name, **measures, "at_mm": place, **edge}
