"""Causes of simulated runs with one fault, and of none; words that are safe to follow."""

from dataclasses import replace

import pytest

from regscan.drift.causes.table import CAUSES
from regscan.drift.why import explain_run
from regscan.simulator.bank import bank_run, plan_of
from regscan.simulator.press.faults import FAULTS

FRAMES = 380
PLAIN = [
    "backlash",
    "servo-delay",
    "gear-run-out",
    "plate-slip",
    "plate-creep",
    "lamp-warm-up",
    "cocked-cylinder",
    "guide-hunting",
    "tension-step",
    "splice",
]


@pytest.mark.parametrize("name", PLAIN)
def test_the_cause_of_a_run_with_one_fault(name):
    run = bank_run(24, replace(plan_of(24, (name,)), frames=FRAMES, limit="", level="low"))
    behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
    assert causes[0].name == name
    named = set(run.truth.faults[0].stations) - {0}
    if named:
        assert causes[0].station in named
    for cause in causes:
        assert all(behaviours.findings[number].term.moves_mm > 0 for number in cause.findings)
        assert cause.sentence.endswith(".")


@pytest.mark.parametrize("seed", [18, 19, 29, 39])
def test_a_calm_run_has_no_cause(seed):
    run = bank_run(seed, replace(plan_of(seed, ()), frames=FRAMES))
    _, causes = explain_run(run.rows, run.job, run.speed_log)
    assert causes == ()


def test_a_fault_of_the_reference_is_told_as_that():
    run = bank_run(13, replace(plan_of(13, ("servo-delay",)), frames=FRAMES, limit=""))
    number = run.job.station_of(run.job.reference).number
    (fault,) = run.truth.faults
    other = run.job.press.stations[fault.stations[0] - 1].ink
    rows, job = run.rows.copy(), replace(run.job, reference=other)
    # The same marks with the misbehaving colour as reference: all others move the other way.
    frames = rows["frame"].tolist()
    for axis in ("circumferential_mm", "lateral_mm"):
        mine = {f: v for f, v, i in zip(frames, rows[axis], rows["ink"], strict=True) if i == other}
        rows[axis] = [v - mine[f] for f, v in zip(frames, rows[axis], strict=True)]
    _, causes = explain_run(rows, job, run.speed_log)
    assert causes[0].name == "servo-delay"
    assert causes[0].station == fault.stations[0] != number
    assert causes[0].sentence.startswith("The reference itself")


@pytest.mark.parametrize("seed", [1011, 1015, 1018, 1035, 1052])
def test_a_station_that_moves_otherwise_than_what_follows_it_is_one_event(seed):
    """Impression moves its own print and, by the drum's radius, the web from there on."""
    plan = replace(plan_of(seed, ("impression",)), frames=500, limit="", edges=False, marks=1)
    run = bank_run(seed, plan)
    (fault,) = run.truth.faults
    assert fault.pattern == "stair"
    _, causes = explain_run(run.rows, run.job, run.speed_log)
    assert [(cause.name, cause.station) for cause in causes] == [("impression", *fault.stations)]


def test_every_fault_that_shows_has_its_entry():
    names = {entry.name for entry in CAUSES}
    assert set(FAULTS) - {"trigger-latency"} <= names
    assert len(names) == len(CAUSES)


ON_THE_MACHINE = (
    "bearing",
    "gear mesh",
    "clean ",
    "dial indicator",
    "plate edge",
    "collar",
    "turn ",
)
NEVER = ("reach in", "while running", "while it runs", "feel ", "touch")


@pytest.mark.parametrize("entry", CAUSES, ids=lambda entry: entry.name)
def test_checks_on_the_machine_begin_with_the_press_stopped(entry):
    check = entry.first_check
    lowered = check.lower()
    assert not any(word in lowered for word in NEVER)
    for word in ON_THE_MACHINE:
        if word in lowered:
            before = lowered.split(word)[0]
            assert "stopped and isolated" in before or "set" in before or "roll" in before, check
    assert entry.reason
    assert entry.deciding
