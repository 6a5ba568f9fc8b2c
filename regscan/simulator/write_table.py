"""Write a scenario as a table of offsets instead of pictures, with its log, job and truth."""

from pathlib import Path

import numpy as np

from regscan.simulator.chance import stream
from regscan.simulator.draw import true_places
from regscan.simulator.example import Given
from regscan.simulator.newfolder import new_folder
from regscan.simulator.press.loss import lost_marks
from regscan.simulator.press.machine import machine_of
from regscan.simulator.press.noise import Noise, scatter
from regscan.simulator.press.rows import Sight, rows_csv, rows_of
from regscan.simulator.scenario import Scenario
from regscan.simulator.truth_notes import truth_toml
from regscan.simulator.truth_table import TruthRow, truth_csv, truth_rows
from regscan.simulator.write import speed_log_csv


def write_table_of(
    scenario: Scenario, files: Given, folder: Path, drawn_by: str, mark_noise_um: float
) -> None:
    """offsets.csv, speed_log.csv, job.toml, truth.csv and truth.toml; no picture is drawn.

    folder          must not exist, or be empty; it appears when everything is in it.
    mark_noise_um   sd of measuring one mark; the prints' own scatter is in the scenario.

    Raises BadOutput for a folder in use or one that cannot be written.
    """
    rows: list[TruthRow] = []
    for shot, offsets in zip(scenario.shots, scenario.offsets, strict=True):
        truth = true_places(scenario.job, scenario.camera, offsets, shot)
        rows += truth_rows(scenario, shot, truth)
    texts = {
        "offsets.csv": rows_csv(measured(scenario, rows, mark_noise_um)),
        "job.toml": files.job_text,
        "truth.csv": truth_csv(rows, scenario.clock),
        "truth.toml": truth_toml(scenario, rows, drawn_by),
    }
    if scenario.clock:
        texts["speed_log.csv"] = speed_log_csv(scenario)
    with new_folder(folder) as part:
        for name, text in texts.items():
            (part / name).write_text(text, encoding="utf-8", newline="\n")


def measured(scenario: Scenario, rows: list[TruthRow], mark_noise_um: float) -> np.ndarray:
    """The rows of offsets.csv: true offsets as a good camera would have measured them."""
    views = list(dict.fromkeys((row.shot.camera, row.edge or row.shot.edge) for row in rows))
    sights = []
    for number, (camera, edge) in enumerate(views):
        mine = [r for r in rows if (r.shot.camera, r.edge or r.shot.edge) == (camera, edge)]
        rng = stream(scenario.wish.seed, "motion", 5000 + number)
        sights.append(_sight(scenario, mine, Noise(0.0, 0.0, 1.0, mark_noise_um), rng))
    return rows_of(sights)


def _sight(
    scenario: Scenario, rows: list[TruthRow], noise: Noise, rng: np.random.Generator
) -> Sight:
    """One camera's and edge's rows, which come frame after frame in print order."""
    names = list(dict.fromkeys(row.shot.name for row in rows))
    stations = len(rows) // len(names)
    shots = [row.shot for row in rows[::stations]]
    inks = [row.ink for row in rows[:stations]]
    is_reference = np.array([ink == scenario.job.reference for ink in inks])
    web = np.array([shot.web_m or 0.0 for shot in shots])
    missing = _missing(scenario, rows[:stations], web, rng)
    missing |= missing[is_reference].any(axis=0)
    values = []
    for axis in ("circumferential_mm", "lateral_mm"):
        true = np.array([getattr(row, axis) for row in rows]).reshape(-1, stations).T
        scattered = scatter(noise, web, stations, rng) / 1000.0
        values.append(true + scattered - scattered[is_reference].sum(axis=0))
    sd = np.where(is_reference, 0.0, np.sqrt(2.0) * noise.measure_um / 1000.0)
    return Sight(
        frame=names,
        time_s=_known([shot.time_s for shot in shots]),
        web_m=_known([shot.web_m for shot in shots]),
        speed_m_min=_known([shot.speed_m_min for shot in shots]),
        camera=shots[0].camera,
        edge=rows[0].edge or shots[0].edge,
        stations=[row.station for row in rows[:stations]],
        inks=inks,
        status=np.where(missing | np.isnan(values[0]), "missing", "ok"),
        circumferential_mm=values[0],
        lateral_mm=values[1],
        sd_mm=np.repeat(sd[:, None], len(names), axis=1),
    )


def _missing(
    scenario: Scenario, rows: list[TruthRow], web_m: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    machine = machine_of(scenario.job, scenario.motion.metering)
    effects = [e for fault in scenario.motion.faults for e in fault.effects(machine)]
    lost = lost_marks(machine, effects, web_m, rows[0].shot.camera, rng)
    return lost[[row.station - 1 for row in rows]]


def _known(values: list[float | None]) -> np.ndarray:
    return np.array([np.nan if value is None else value for value in values])
