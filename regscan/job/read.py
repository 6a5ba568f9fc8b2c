"""job.toml -> Job, or BadJob with every mistake in the file, its place and its cure.

Each table is checked by a form of its own; the checks across tables run on
whatever could be read. docs/job_file.md shows a whole file with every key.
"""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import ValidationError

from regscan.errors import BadJob, Problem
from regscan.job import forms
from regscan.job.checks import cross_checks
from regscan.job.colours import Written, read_colour
from regscan.job.draft import Draft
from regscan.job.job import (
    CameraPost,
    Colour,
    Ink,
    Job,
    Overprint,
    Play,
    Press,
    Station,
    Steps,
    Tolerance,
)
from regscan.job.layout import Approved, MarkDesign, Shape
from regscan.job.read_acceptance import AcceptanceForm, acceptance_rules
from regscan.job.read_acceptance import contradictions as acceptance_contradictions
from regscan.job.read_gate import (
    GateForm,
    WordsForm,
    checked_words,
    contradictions,
    direction_words,
    gate_rules,
)
from regscan.job.read_turning import TurningForm, turning_part, turning_problems
from regscan.job.shapes import SHAPES, shape_faults
from regscan.job.turning import TurningPart
from regscan.tomlfile import explain, read_toml, shown, spot, suggest

FORMAT = 1
NO_KEYS: Mapping[str, str] = MappingProxyType({})

AnyForm = TypeVar("AnyForm", bound=forms.Form)


def read_job(path: Path) -> Job:
    """The job in a file. Raises BadJob naming every problem found, never another error."""
    path = Path(path)
    raw = read_toml(path, BadJob)
    number = raw.get("format")
    if isinstance(number, int) and not isinstance(number, bool) and number != FORMAT:
        what = f"is {shown(number)}, and this regscan reads format {FORMAT}"
        raise BadJob(path, Problem("format", what, f"write format = {FORMAT}, or update regscan"))
    reader = _Reader()
    draft = reader.draft(raw)
    problems = reader.problems + cross_checks(draft)
    if problems:
        raise BadJob(path, problems)
    return _job(draft, str(path))


def _job(draft: Draft, path: str) -> Job:
    """The job from a draft in which nothing is missing."""
    assert draft.press
    assert draft.reference
    assert draft.substrate
    assert draft.tolerance
    return Job(
        name=draft.name,
        press=draft.press,
        inks=tuple(ink for ink in (draft.inks or {}).values() if ink),
        substrate=draft.substrate,
        reference=draft.reference,
        marks=tuple(mark for mark in draft.marks if mark),
        tolerance=draft.tolerance,
        ink_tolerances={ink: t for ink, t in draft.ink_tolerances.items() if t},
        path=path,
        overprints=tuple(over for over in draft.overprints if over),
        zero=draft.zero,
        gate=draft.gate,
        direction_words=draft.direction_words,
        acceptance=draft.acceptance,
    )


def _named(raw: object) -> str | None:
    """The ink a table names, whatever else is wrong with the table."""
    ink = raw.get("ink") if isinstance(raw, dict) else None
    return ink if isinstance(ink, str) and ink else None


def _first(own: float | None, shared: float) -> float:
    """The station's own value; that of [correction] where it has none."""
    return shared if own is None else own


class _Reader:
    """Reads table by table and keeps every problem met on the way."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def say(self, place: str, what: str, cure: str = "") -> None:
        self.problems.append(Problem(place, what, cure))

    def checked(
        self, form: type[AnyForm], raw: object, place: str, also: Mapping[str, str] = NO_KEYS
    ) -> AnyForm | None:
        """The table as its form; its mistakes are noted. also: keys checked by another form.

        A table with mistakes is read without the wrong keys where it can be, so
        that the later checks still find what else is wrong with it.
        """
        keys = {**forms.known_keys(form), **also}
        if not isinstance(raw, dict):
            self.say(place, f"must be a table, not {shown(raw)}", f"write it as [{place}]")
            return None
        try:
            return form.model_validate(raw)
        except ValidationError as fault:
            details = fault.errors(include_url=False)
        self.problems += explain(details, place, keys)
        wrong = {detail["loc"][0] for detail in details if detail["loc"]}
        try:
            return form.model_validate({k: v for k, v in raw.items() if k not in wrong})
        except ValidationError:
            return None

    def clean(self, place: str) -> bool:
        """Whether nothing was found wrong yet in the table at that place."""
        return not any(p.place.startswith((f"{place}.", f"{place}[")) for p in self.problems)

    def tables(self, raw: dict[str, Any], key: str, place: str) -> list[Any]:
        """A list of tables, [[place]]; [] when it is absent or something else."""
        value = raw.get(key)
        if value is None:
            return []
        if not isinstance(value, list) or not value:
            what = "is empty" if value == [] else f"must be a list of tables, not {shown(value)}"
            self.say(place, what, f"write each one under its own [[{place}]]")
            return []
        return value

    def draft(self, raw: dict[str, Any]) -> Draft:
        top = self.checked(forms.JobForm, raw, "")
        reference = raw.get("reference")
        draft = Draft(
            name=top.name if top else "",
            reference=reference if isinstance(reference, str) and reference else None,
        )
        draft.zero = top.zero if top else "design"
        moving = self.checked(forms.CorrectionForm, raw.get("correction", {}), "correction")
        self.words(moving, draft)
        self.gate(raw, draft)
        self.acceptance(raw, draft)
        self.press(raw, draft, moving or forms.CorrectionForm())
        if "substrate" in raw:
            form = self.checked(forms.ColourForm, raw["substrate"], "substrate")
            if form:
                needed = self.clean("substrate")
                draft.substrate = self.colour(form, "substrate", required=needed)
        draft.inks = self.inks(raw)
        tables = self.tables(raw, "marks", "marks")
        draft.mark_inks = [_named(table) for table in tables]
        draft.marks = [self.mark(table, spot("marks", k)) for k, table in enumerate(tables)]
        self.overprints(raw, draft)
        self.tolerance(raw, draft)
        return draft

    def words(self, moving: forms.CorrectionForm | None, draft: Draft) -> None:
        if moving is None or moving.words is None:
            return
        form = self.checked(WordsForm, moving.words, "correction.words")
        if form:
            self.problems += checked_words(form)
            draft.direction_words = direction_words(form)

    def acceptance(self, raw: dict[str, Any], draft: Draft) -> None:
        form = self.checked(AcceptanceForm, raw.get("acceptance", {}), "acceptance")
        if form:
            clean = self.clean("acceptance")
            self.problems += acceptance_contradictions(form) if clean else ()
            draft.acceptance = acceptance_rules(form)

    def gate(self, raw: dict[str, Any], draft: Draft) -> None:
        form = self.checked(GateForm, raw.get("gate", {}), "gate")
        if form:
            self.problems += contradictions(form) if self.clean("gate") else ()
            draft.gate = gate_rules(form)

    def press(self, raw: dict[str, Any], draft: Draft, moving: forms.CorrectionForm) -> None:
        if "press" not in raw:
            return
        form = self.checked(forms.PressForm, raw["press"], "press")
        table = raw["press"] if isinstance(raw["press"], dict) else {}
        stations = self.tables(table, "stations", "press.stations")
        draft.station_inks = [_named(station) for station in stations]
        draft.stations = [self.station(s, k, moving) for k, s in enumerate(stations)]
        cameras = self.tables(table, "cameras", "press.cameras")
        draft.cameras = [self.camera(c, spot("press.cameras", k)) for k, c in enumerate(cameras)]
        turning = self.turning(table, len(stations))
        if form:
            draft.press = Press(
                name=form.name,
                repeat_mm=form.repeat_mm,
                web_width_mm=form.web_width_mm,
                stations=tuple(s for s in draft.stations if s),
                cameras=tuple(c for c in draft.cameras if c),
                edge_spacing_mm=form.edge_spacing_mm,
                turning=turning,
            )

    def turning(self, table: dict[str, Any], stations: int) -> tuple[TurningPart, ...]:
        parts = []
        for k, raw in enumerate(self.tables(table, "turning", "press.turning")):
            place = spot("press.turning", k)
            form = self.checked(TurningForm, raw, place)
            if form is None:
                continue
            if self.clean(place):
                self.problems += turning_problems(form, place, stations)
            parts.append(turning_part(form))
        return tuple(part for part in parts if part)

    def station(self, raw: object, index: int, moving: forms.CorrectionForm) -> Station | None:
        place = spot("press.stations", index)
        form = self.checked(forms.StationForm, raw, place)
        if form is None:
            return None
        if index == 0 and form.path_m:
            cure = "leave path_m out here: no station lies before the first"
            self.say(f"{place}.path_m", f"must be 0, not {form.path_m:g}", cure)
        if index > 0 and not form.path_m and self.clean(place):
            what = "is missing" if form.path_m is None else "must be more than 0"
            cure = "add for example path_m = 1.0, the web path from the station before in metres"
            self.say(f"{place}.path_m", what, cure)
        steps = Steps(
            form.circumferential_step_mm or moving.circumferential_step_mm,
            form.lateral_step_mm or moving.lateral_step_mm,
        )
        play = Play(
            _first(form.circumferential_play_mm, moving.circumferential_play_mm),
            _first(form.lateral_play_mm, moving.lateral_play_mm),
        )
        grips = moving.grips if form.grips is None else form.grips
        return Station(index + 1, form.ink, form.path_m or 0.0, steps, play, form.locked, grips)

    def camera(self, raw: object, place: str) -> CameraPost | None:
        form = self.checked(forms.CameraForm, raw, place)
        if form is None:
            return None
        return CameraPost(form.name, form.after_station, form.path_m, form.edge, form.file)

    def colour(self, form: forms.ColourForm, place: str, required: bool) -> Colour | None:
        written = Written(form.lab, form.srgb, form.taught, form.camera)
        colour, faults = read_colour(written, required)
        self.problems += [Problem(spot(place, f.place), f.what, f.cure) for f in faults]
        return colour

    def inks(self, raw: dict[str, Any]) -> dict[str, Ink | None] | None:
        """Every ink by name; None when there is no table of inks at all."""
        table = raw.get("inks")
        if not isinstance(table, dict) or not table:
            if "inks" in raw:
                self.say("inks", "holds no ink", "write each one under its own [inks.NAME]")
            return None
        return {name: self.ink(name, table[name]) for name in table}

    def ink(self, name: str, raw: object) -> Ink | None:
        place = spot("inks", name)
        if not name.strip() or len(name) > 64 or not name.isprintable():
            self.say(place, "is no name for an ink", "use 1 to 64 printable letters")
        form = self.checked(forms.InkForm, raw, place)
        if form is None:
            return None
        before = len(self.problems)
        needed = form.cover != "invisible" and self.clean(place)
        colour = self.colour(form, place, required=needed)
        return Ink(name, colour, form.cover) if len(self.problems) == before else None

    def mark(self, raw: object, place: str) -> MarkDesign | None:
        name = raw.get("shape") if isinstance(raw, dict) else None
        shape = SHAPES.get(name) if isinstance(name, str) else None
        if shape is None or not isinstance(raw, dict):
            self.checked(forms.LooseMarkForm, raw, place)
            if name is not None:
                cure = suggest(str(name)[:64] if isinstance(name, str) else "", SHAPES)
                self.say(f"{place}.shape", f"cannot be {shown(name)}", cure)
            return None
        own = forms.measures_form(str(name))
        keys = forms.known_keys(own)
        rest = {key: value for key, value in raw.items() if key not in keys}
        form = self.checked(forms.MarkForm, rest, place, keys)
        measures = self.checked(own, {k: raw[k] for k in raw if k in keys}, place)
        if form is None or measures is None:
            return None
        drawn = self.shape(shape, measures, place)
        approved = self.approved(form, place)
        return MarkDesign(form.ink, drawn, form.at_mm[0], form.at_mm[1], form.edge, approved)

    def approved(self, form: forms.MarkForm, place: str) -> Approved | None:
        if form.approved_mm is None:
            if form.approved_sd_mm is not None:
                cure = "add approved_mm, or remove approved_sd_mm"
                self.say(f"{place}.approved_sd_mm", "is the doubt of a place that is lacking", cure)
            return None
        return Approved(*form.approved_mm, *(form.approved_sd_mm or (0.0, 0.0)))

    def overprints(self, raw: dict[str, Any], draft: Draft) -> None:
        tables = self.tables(raw, "overprints", "overprints")
        for index, table in enumerate(tables):
            place = spot("overprints", index)
            form = self.checked(forms.OverprintForm, table, place)
            draft.overprint_inks.append(tuple(form.inks) if form else ())
            colour = self.colour(form, place, required=self.clean(place)) if form else None
            known = Overprint(frozenset(form.inks), colour) if form and colour else None
            draft.overprints.append(known)

    def shape(self, shape: type[Shape], form: forms.Form, place: str) -> Shape:
        measures = {key: getattr(form, key) for key in shape.__dataclass_fields__}
        if "points_mm" in measures:
            measures["points_mm"] = tuple((p[0], p[1]) for p in measures["points_mm"])
        drawn = shape(**measures)
        faults = shape_faults(drawn)
        self.problems += [Problem(spot(place, f.place), f.what, f.cure) for f in faults]
        return drawn

    def tolerance(self, raw: dict[str, Any], draft: Draft) -> None:
        if "tolerance" not in raw:
            return
        form = self.checked(forms.ToleranceForm, raw["tolerance"], "tolerance")
        if form:
            draft.tolerance = Tolerance(form.circumferential_mm, form.lateral_mm, form.source)
        table = raw["tolerance"] if isinstance(raw["tolerance"], dict) else {}
        inks = table.get("inks", {})
        if not isinstance(inks, dict):
            self.say("tolerance.inks", "must be tables", "write [tolerance.inks.NAME] for an ink")
            return
        for name, own in inks.items():
            place = spot("tolerance.inks", name)
            draft.ink_tolerances[name] = self.ink_tolerance(own, place, draft.tolerance)

    def ink_tolerance(self, raw: object, place: str, whole: Tolerance | None) -> Tolerance | None:
        form = self.checked(forms.InkToleranceForm, raw, place)
        if form is None or whole is None:
            return None
        return Tolerance(
            form.circumferential_mm or whole.circumferential_mm,
            form.lateral_mm or whole.lateral_mm,
            whole.source if form.source is None else form.source,
        )
