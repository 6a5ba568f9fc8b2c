"""Alias table: the worked visible wavelengths, and waves that fit a part named in the job."""

from dataclasses import replace

import pytest

from regscan.drift.model.aliases import seen_length_m
from regscan.drift.why import explain_run
from regscan.job.turning import TurningPart
from regscan.simulator.bank import bank_run, plan_of


@pytest.mark.parametrize(("girth_mm", "seen_m"), [(251.3, 1.43), (381.0, 1.52), (300.0, 19.0)])
def test_visible_wavelengths_with_one_mark_per_repeat_of_304_8_mm(girth_mm, seen_m):
    # Derived: an 80 mm idler, a drum gear of 120 teeth, a 300 mm girth.
    assert seen_length_m(girth_mm, 0.3048) == pytest.approx(seen_m, rel=0.01)


@pytest.mark.parametrize("n", [1, 2, 3, 8])
def test_what_turns_with_the_plate_cylinder_is_constant(n):
    assert seen_length_m(304.8 / n, 0.3048) is None


def test_a_gear_of_the_job_is_named_by_its_wave_and_another_is_not():
    plan = replace(plan_of(2, ("gear-run-out",)), frames=500, limit="", marks=1)
    run = bank_run(2, plan)
    (fault,) = run.truth.faults
    right = TurningPart("drum gear", fault.fault.wavelength_mm, None)
    other = TurningPart("idler", 0.93 * fault.fault.wavelength_mm, None)
    job = replace(run.job, press=replace(run.job.press, turning=(other, right)))
    behaviours, causes = explain_run(run.rows, job, run.speed_log)
    plate, idler, gear = behaviours.aliases
    assert (plate.shows, plate.seen_m) == ("constant", None)
    assert idler.finding is None
    assert gear.finding is not None
    assert behaviours.findings[gear.finding].kind == "period in metres"
    assert causes[0].name == "gear-run-out"
    assert any("invisible" in sentence for sentence in behaviours.reduced)
