"""truth.toml: how a folder was drawn, what was injected, and what leaves its tolerance."""

import json
import math
from collections.abc import Iterable
from dataclasses import asdict
from itertools import pairwise, product

import numpy as np

from regscan.job.job import AXES, Axis
from regscan.simulator.press.faults.parse import in_words
from regscan.simulator.press.machine import machine_of
from regscan.simulator.press.true_terms import true_terms
from regscan.simulator.scenario import Scenario
from regscan.simulator.truth_table import TruthRow

Table = dict[str, object]


def truth_toml(scenario: Scenario, rows: list[TruthRow], drawn_by: str) -> str:
    """What was drawn and how, what was injected, and which stretches leave tolerance."""
    job = scenario.job
    head = {
        "format": 1,
        "drawn_by": drawn_by,
        "scenario": scenario.name,
        "seed": scenario.wish.seed,
        "frames": len(scenario.shots),
        "agree_mm": scenario.agree_mm,
        "reference": job.reference,
    }
    parts = ["# The truth of these drawn frames. Offsets: + is late, + is toward the drive side."]
    parts += _table(head)
    if scenario.clock:
        parts += _tables("holds", _holds(scenario))
    parts += _tables("injected", _injected(scenario))
    for fault, terms in _faults(scenario):
        parts += _tables("faults", [fault])
        parts += _tables("faults.terms", terms)
    for misbehaving, stretches in _misbehaving(scenario, rows):
        parts += _tables("misbehaves", [misbehaving])
        parts += _tables("misbehaves.stretches", stretches)
    return "\n".join(parts) + "\n"


def _holds(scenario: Scenario) -> list[Table]:
    """The stretches of steady speed, and the frames that show only marks printed in them."""
    speed, press = scenario.motion.speed, scenario.job.press
    camera = scenario.shots[0].camera
    oldest_m = max(press.path_to_camera_m(s.number, camera) for s in press.stations)
    holds: list[Table] = []
    points = zip(speed.times_s, speed.speeds_m_min, strict=True)
    for (start, at), (end, then) in pairwise(points):
        # The web before the run went at its first speed, so the first hold has no old marks.
        first_m = speed.web_at(np.array(start)) + (oldest_m if start > 0.0 else 0.0)
        last_m = speed.web_at(np.array(end))
        names = [s.name for s in scenario.shots if first_m <= (s.web_m or 0.0) <= last_m]
        if at == then and names:
            hold: Table = {"from_s": start, "to_s": end, "speed_m_min": at}
            holds.append(hold | {"from_frame": names[0], "to_frame": names[-1]})
    return holds


def _injected(scenario: Scenario) -> list[Table]:
    inks = {station.number: station.ink for station in scenario.job.press.stations}
    return [
        {
            "station": injected.station,
            "ink": inks[injected.station],
            "axis": injected.axis,
            "fault": injected.fault,
            "term": type(injected.term).__name__,
            **asdict(injected.term),  # type: ignore[call-overload]
        }
        for injected in scenario.motion.injected
    ]


def _faults(scenario: Scenario) -> list[tuple[Table, list[Table]]]:
    """Named causes, and what each amounts to at the stations, seen by the first camera."""
    motion, camera = scenario.motion, scenario.shots[0].camera
    machine = machine_of(scenario.job, motion.metering)
    inks = {station.number: station.ink for station in scenario.job.press.stations}
    found: list[tuple[Table, list[Table]]] = []
    for fault in motion.faults:
        head: Table = {"name": fault.name, "words": in_words(fault)}
        head |= {"pattern": fault.pattern(machine), "stations": list(fault.named)}
        terms: list[Table] = []
        for term in true_terms(machine, fault.effects(machine), camera):
            own: Table = {"station": term.station, "ink": inks[term.station]}
            own |= {"channel": term.channel, "kind": term.kind, "size_mm": term.size_mm}
            terms.append(own | {k: v for k, v in term.parameters.items() if v != math.inf})
        found.append((head, terms))
    return found


def _misbehaving(scenario: Scenario, rows: list[TruthRow]) -> list[tuple[Table, list[Table]]]:
    """Stations and axes whose true offset leaves the tolerance, and in which frames."""
    views = sorted({(row.shot.camera, row.edge) for row in rows})
    found: list[tuple[Table, list[Table]]] = []
    for (camera, edge), station, axis in product(views, scenario.job.press.stations, AXES):
        view = camera, edge, station.ink
        own = [row for row in rows if (row.shot.camera, row.edge, row.ink) == view]
        limit = scenario.job.tolerance_for(station.ink).of(axis)
        head: Table = {"station": station.number, "ink": station.ink, "axis": axis}
        head |= {"camera": camera, "edge": edge, "tolerance_mm": limit}
        if stretches := _stretches(own, axis, limit):
            found.append((head, stretches))
    return found


def _stretches(rows: list[TruthRow], axis: Axis, limit: float) -> list[Table]:
    runs: list[list[TruthRow]] = [[]]
    for row in rows:
        if abs(row.of(axis)) > limit:
            runs[-1].append(row)
        elif runs[-1]:
            runs.append([])
    return [
        {
            "from_frame": run[0].shot.name,
            "to_frame": run[-1].shot.name,
            "worst_mm": max((row.of(axis) for row in run), key=abs),
        }
        for run in runs
        if run
    ]


def _tables(name: str, tables: Iterable[Table]) -> list[str]:
    lines = []
    for table in tables:
        lines += ["", f"[[{name}]]", *_table(table)]
    return lines


def _table(values: Table) -> list[str]:
    # JSON's numbers, strings and booleans are TOML's too; unknown values are left out.
    return [
        f"{key} = {json.dumps(round(v, 9) if isinstance(v, float) else v, ensure_ascii=False)}"
        for key, v in values.items()
        if v is not None
    ]
