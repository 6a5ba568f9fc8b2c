"""A long run on a wide press: 3,000 frames x 10 stations stay small, and no extreme is lost."""

import json
import re

import numpy as np
import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.drift.describe import describe_run
from regscan.job.read import read_job
from regscan.offsets.table import read_offsets
from regscan.report.facts import report_facts
from regscan.report.page import page
from regscan.run import Inputs, Run
from regscan.verdict.correct import propose_moves
from regscan.verdict.gate import judge_run

FRAMES, STATIONS = 3000, 10
LIMIT_BYTES = 6_000_000  # as wanted; marked-up frames inside the page take up to a million


@pytest.fixture(scope="module")
def long_run(tmp_path_factory):
    """(offsets, facts, html) of a run that the simulator made as a table."""
    folder = tmp_path_factory.mktemp("long")
    job_file, out = folder / "job.toml", folder / "out"
    inks = ["black", *(f"colour {k}" for k in range(1, STATIONS))]
    text = ['format = 1\nname = "Honey jar"\nreference = "black"\n[press]\nname = "Press 2"']
    text += ["repeat_mm = 304.8\nweb_width_mm = 330.0"]
    for k, ink in enumerate(inks):
        text += [f'[[press.stations]]\nink = "{ink}"', *(["path_m = 1.0"] if k else [])]
    text += ["[substrate]\nlab = [95.0, 0.0, -2.0]"]
    text += [f'[inks."{ink}"]\nlab = [{20 + 6 * k}, {5 * k}, 0]' for k, ink in enumerate(inks)]
    for k, ink in enumerate(inks):
        place = f"at_mm = [{1.7 * (k // 5):.1f}, {1.7 * (k % 5):.1f}]"
        text += [f'[[marks]]\nink = "{ink}"\nshape = "disc"\ndiameter_mm = 0.6\n{place}']
    text += ['[tolerance]\ncircumferential_mm = 0.1\nlateral_mm = 0.1\nsource = "house rule"\n']
    job_file.write_text("\n".join(text), encoding="utf-8")
    asked = ["simulate", "--job", str(job_file), "--table", "--frames", str(FRAMES)]
    done = CliRunner().invoke(app, [*asked, "--out", str(out)])
    assert done.exit_code == 0, done.output
    job, offsets = read_job(out / "job.toml"), read_offsets(out / "offsets.csv")
    drift = describe_run(offsets, job)
    inputs = Inputs("run", FRAMES, FRAMES, (), "", (), "0.1.0", "2025-11-25T10:00:00+00:00")
    moves, verdict = propose_moves(drift, job), judge_run(drift, job)
    facts = report_facts(Run("ramp", job, (), inputs, drift, moves, verdict), offsets, None)
    return offsets, facts, page(facts)


def test_the_page_stays_under_six_megabytes(long_run):
    offsets, _, html = long_run
    assert len(offsets) == FRAMES * STATIONS
    assert len(html.encode()) + 1_000_000 < LIMIT_BYTES


def test_the_page_says_that_it_is_thinned(long_run):
    assert "There are more frames than a chart can show" in long_run[2]


def test_no_extreme_of_any_colour_is_lost_in_the_page(long_run):
    offsets, _, html = long_run
    text = re.search(r'<script type="application/json" id="facts">(.*?)</script>', html, re.S)[1]
    curves = json.loads(text)["curves"]
    assert len(curves) == 2 * (STATIONS - 1)
    for curve in curves:
        mine = offsets[(offsets["ink"] == curve["ink"]) & (offsets["status"] == "ok")]
        values = mine[f"{curve['axis']}_mm"]
        drawn = [y for y, s in zip(curve["y"], curve["status"], strict=True) if s == "o"]
        assert len(drawn) < len(values)
        assert (min(drawn), max(drawn)) == pytest.approx((np.min(values), np.max(values)), abs=6e-5)
