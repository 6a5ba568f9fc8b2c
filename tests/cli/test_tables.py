"""The terminal's words: right direction, size and doubt, and nothing dropped in silence."""

from dataclasses import replace

import pytest
from rich.console import Console
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.cli.tables import level_text, offsets_table, remarks
from regscan.drift.drift import Level
from regscan.job.job import Ink, Station
from regscan.run import SkippedFrame, load_run


@pytest.fixture(scope="module")
def run(drawn, tmp_path_factory):
    out = tmp_path_factory.mktemp("tables") / "out"
    done = CliRunner().invoke(app, ["measure", str(drawn), "--out", str(out), "--no-overlays"])
    assert done.exit_code == 0, done.output
    return load_run(out / "run.json")


def level(mean_mm, sd_mm=0.004):
    return Level(1, 150.0, 20, mean_mm, sd_mm, 0.01)


@pytest.mark.parametrize(
    ("mean_mm", "axis", "text"),
    [
        (0.12, "circumferential", "late 0.120 ±0.004"),
        (-0.12, "circumferential", "early 0.120 ±0.004"),
        (0.05, "lateral", "to drive 0.050 ±0.004"),
        (-0.05, "lateral", "to oper. 0.050 ±0.004"),
        (-0.0004, "lateral", "0.000 ±0.004"),  # what reads as zero has no direction
    ],
)
def test_a_level_is_said_with_the_contracts_words(mean_mm, axis, text):
    assert level_text(level(mean_mm), axis) == text


def test_what_is_not_known_is_not_zero():
    assert level_text(None, "lateral") == "-"
    assert level_text(level(0.12, None), "circumferential") == "late 0.120 ±?"


def test_an_ink_that_cannot_be_seen_is_listed(run):
    press = run.job.press
    varnish = Station(len(press.stations) + 1, "varnish", 1.0)
    job = replace(
        run.job,
        press=replace(press, stations=(*press.stations, varnish)),
        inks=(*run.job.inks, Ink("varnish", None, "invisible")),
    )
    assert any("varnish: not measurable" in line for line in remarks(replace(run, job=job)))


def test_skipped_frames_are_counted_and_the_first_named(run):
    skipped = tuple(SkippedFrame(f"{k}.png", "is cut off") for k in range(9))
    inputs = replace(run.inputs, frames_found=13, frames_used=4, skipped=skipped)
    said = remarks(replace(run, inputs=inputs))
    assert "9 of 13 frames could not be used:" in said
    assert "  0.png: is cut off" in said
    assert "  and 4 more, in run.json" in said


def test_several_cameras_are_kept_apart_in_the_table(run):
    tracks = [
        replace(track, camera=name) for name in ("first", "end") for track in run.drift.tracks
    ]
    console = Console(width=80, record=True, file=None, quiet=False)
    with console.capture() as shown:
        both = replace(run, drift=replace(run.drift, tracks=tuple(tracks)))
        console.print(offsets_table(both))
    text = shown.get()
    assert "Seen by" in text
    assert text.count("first") == text.count("end") == 6
    assert max(map(len, text.splitlines())) <= 80
