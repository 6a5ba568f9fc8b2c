"""Plate, cylinder and run-out in the terminal's words, from tables of simulated presses."""

from dataclasses import replace

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.simulator.bank import bank_run, plan_of
from regscan.simulator.bank.write import write_bank_run


def said_of(fault, seed, folder, **plan):
    """(what `regscan ramp --offsets` says, the run) of one fault of the bank."""
    run = bank_run(seed, replace(plan_of(seed, (fault,)), frames=600, limit="", **plan))
    write_bank_run(run, folder / "bank")
    asked = [
        "ramp",
        "--offsets",
        str(folder / "bank" / "offsets.csv"),
        "--out",
        str(folder / "out"),
    ]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split()), run


def ink_of(run):
    (true,) = run.truth.faults
    return run.job.press.stations[true.fault.station - 1].ink


@pytest.mark.parametrize(
    ("fault", "seed", "words"),
    [
        ("plate-mounting", 31, "the plate is turned by"),
        ("cocked-cylinder", 32, "stays the same all round the repeat"),
        ("plate-run-out", 35, "Once per repeat it runs out by"),
    ],
)
def test_the_station_at_fault_is_named_with_what_it_is(fault, seed, words, tmp_path):
    output, run = said_of(fault, seed, tmp_path)
    ink = ink_of(run)
    assert ink != run.job.reference  # the seed was chosen so; else all others show it
    lines = output.split("Plate and cylinder, ")[1:]
    (mine,) = [line for line in lines if ink in line.split(":")[0].split(", ")]
    assert mine.startswith(f"{ink}: ")
    assert words in mine
    others = [line for line in lines if line is not mine]
    assert others
    assert not any(words in line for line in others)


def test_one_mark_per_repeat_says_what_it_cannot_show(tmp_path):
    output, _ = said_of("film-shrink", 33, tmp_path, edges=True, marks=1)
    assert "Run-out of its cylinder is invisible with one mark per repeat" in output
    assert "Both web edges: shift of the middle, skew, width" in output


def test_a_plain_run_says_nothing_of_edges(tmp_path):
    output, _ = said_of("backlash", 34, tmp_path, edges=False, marks=1)
    assert "web edges" not in output
    assert "Plate and cylinder" not in output
