"""regscan gate: certificate, its check, XJDF, and how many frames are enough."""

import json
import shutil
import subprocess
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from drift.presses import JOB, Made, make_table
from typer.testing import CliRunner
from verdict.tracks import drift_of, stretch, track

from regscan.cli import pdf
from regscan.cli.app import app
from regscan.job.job import AXES
from regscan.job.rules import GateRules
from regscan.pipeline import Task, decide, inputs_of_table, save_results
from regscan.verdict.certificate import About, Certificate, certificate_page
from regscan.verdict.gate import judge_run
from tests.job.example import example_text

PRINTS = pytest.mark.skipif(
    not any(shutil.which(name) for name in pdf.BROWSERS) or not shutil.which("pdfinfo"),
    reason="needs headless Chromium and pdfinfo",
)


def gate(*arguments):
    return CliRunner().invoke(app, ["gate", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path):
    table = make_table(Made(truth={"cyan": lambda t: (0.12 + 0 * t, 0 * t)}), 1)
    (tmp_path / "measured.csv").write_text("the table it came from")
    inputs = inputs_of_table(tmp_path / "measured.csv", table)
    out = tmp_path / "out"
    save_results(out, decide(Task("ramp", JOB, {}), table, inputs), table, None)
    return out


def test_a_certificate_is_written_and_belongs(folder, monkeypatch):
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    done = gate(folder, "--certificate")
    assert done.exit_code == 1
    assert "no PDF: no headless Chromium is installed" in done.output
    checked = gate(folder, "--verify")
    assert (checked.exit_code, "belongs to these 3 files" in checked.output) == (0, True)
    document = json.loads(gate(folder, "--verify", "--json").stdout)
    assert (document["belongs"], document["files"]) == (True, 3)
    (folder.parent / "measured.csv").write_text("another table")
    changed = gate(folder, "--verify")
    assert changed.exit_code == 3
    assert "measured.csv: has changed since the certificate was written" in changed.output


def test_nothing_to_verify_is_bad_input(folder):
    assert gate(folder, "--verify").exit_code == 3


@PRINTS
def test_the_certificate_prints_to_one_page(folder):
    gate(folder, "--certificate")
    assert pages_of(folder / "certificate.pdf") == 1


def pages_of(path):
    told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True)
    (line,) = [line for line in told.stdout.splitlines() if line.startswith("Pages:")]
    return int(line.split()[1])


@PRINTS
def test_even_the_longest_certificate_prints_to_one_page(tmp_path):
    # Twelve stations seen by two cameras at two edges, all out, and every name too long.
    every = ("levels", "metres outside", "share inside", "excursions", "capability", "skew")
    names = [f"a long name of an ink, number {k}" for k in range(12)]
    tracks = [
        replace(
            track("cyan", axis, settled=-0.15, camera=f"camera {camera} of the press", edge=edge,
                  stretches=(stretch(0.3),)),
            ink=name, station=number,
        )
        for camera in (1, 2) for edge in ("operator", "drive")
        for number, name in enumerate(names, 1) for axis in AXES
    ]  # fmt: skip
    job = replace(
        JOB,
        name="Honey jar " * 60,
        ink_tolerances=dict.fromkeys(names, JOB.tolerance),
        gate=GateRules(rules=every, least_frames=25),
    )
    about = About("/place" * 60, 9, 9, "2026-01-02T03:04:05+00:00", "2026-01-02", "0.1.0")
    made = Certificate(job, judge_run(drift_of(*tracks), job), about, ())
    (tmp_path / "page.html").write_text(certificate_page(made), encoding="utf-8")
    assert pdf.print_pdf(tmp_path / "page.html", tmp_path / "page.pdf") == ""
    assert pages_of(tmp_path / "page.pdf") == 1


def test_xjdf_is_written(folder):
    assert gate(folder, "--xjdf").exit_code == 1
    assert ElementTree.parse(folder / "register.xjdf").getroot().get("JobID") == "Honey_jar"


def test_frames_that_are_enough_before_a_run(tmp_path):
    (tmp_path / "job.toml").write_text(example_text())
    done = gate("--job", tmp_path / "job.toml", "--noise-mm", "0.01")
    assert done.exit_code == 0
    assert "tolerance 0.100 mm, single frames ±0.010 mm: 5 frames up to 0.050 mm" in done.output
    told = gate("--job", tmp_path / "job.toml", "--noise-mm", "0.01", "--json")
    first = json.loads(told.stdout)["enough"][0]
    assert first == {"tolerance_mm": 0.1, "offset_mm": 0.05, "frames": 5}
    assert gate("--noise-mm", "0.01").exit_code == 2
    assert gate().exit_code == 2


def test_a_new_run_takes_the_old_certificate_away(folder):
    from regscan.cli.results import NAMES

    gate(folder, "--certificate", "--xjdf")
    written = {path.name for path in folder.iterdir()}
    assert {"certificate.html", "certificate.json", "register.xjdf"} <= written & set(NAMES)
