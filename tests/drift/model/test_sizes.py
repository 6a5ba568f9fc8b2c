"""Sizes and intervals of simulated runs in which something has to be told apart from its like."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.drift.why import explain_run
from regscan.simulator.bank import bank_run, plan_of
from regscan.simulator.press.machine import GRIPPED, INFEED


def explained(seed, fault, **plan):
    run = bank_run(seed, replace(plan_of(seed, (fault,)), limit="", edges=False, marks=1, **plan))
    behaviours, causes = explain_run(run.rows, run.job, run.speed_log)
    return run, behaviours, causes


def true_size(run, station, kind):
    (fault,) = run.truth.faults
    return sum(t.size_mm for t in fault.terms if t.station == station and t.kind == kind)


@pytest.mark.parametrize("seed", [3012, 3020])
def test_a_fan_that_begins_at_the_infeed_nip_is_one_cause_of_the_true_size(seed):
    """Web before the first station takes part: it shows while the fan comes up, in no level."""
    plan = {"frames": 600, "level": "low", "metering": INFEED}
    run, behaviours, causes = explained(seed, "tension-step", **plan)
    assert [cause.name for cause in causes] == ["tension-step"]
    for one in behaviours.stations:
        if one.channel == "circumferential":
            moved = sum(term.size.value for term in one.terms if term.unit == "mm")
            true = true_size(run, one.station, "step")
            assert moved == pytest.approx(true, rel=0.05, abs=1e-3)


@pytest.mark.parametrize("seed", [3002, 3016])
def test_a_roll_that_asks_for_tension_is_told_from_idlers_that_do(seed):
    plan = {"frames": 900, "level": "low", "metering": GRIPPED}
    run, behaviours, _ = explained(seed, "unwind-inertia", **plan)
    (fault,) = run.truth.faults
    true = fault.fault.ppm_per_m_s2
    found = [f for f in behaviours.findings if f.kind == "passing strain" and f.pattern == "strain"]
    assert found[0].term.size.value == pytest.approx(true, rel=0.08)
    assert not any(f.pattern in ("drum", "drums") for f in behaviours.findings)


def test_a_wave_against_a_reference_that_swings_too_has_the_amplitude_of_the_difference():
    run = bank_run(18, replace(plan_of(18, ()), frames=500, level="low", limit="", edges=False))
    rows, press = run.rows.copy(), run.job.press
    reference = run.job.station_of(run.job.reference).number
    length, first = 17.3, reference - 1
    swing = {k: 0.02 * np.exp(2j * k) for k in range(first, len(press.stations) + 1)}
    swing[reference] = 0.03 + 0.0j

    def turned(station):
        """Amplitude and phase as it shows, being printed that much web before the frame."""
        path = press.path_to_camera_m(station, press.cameras[0].name)
        return swing.get(station, 0.0) * np.exp(-2j * np.pi * path / length)

    true = {s.number: turned(s.number) - turned(reference) for s in press.stations}
    wave = np.exp(2j * np.pi * rows["web_m"] / length)
    rows["circumferential_mm"] += np.real([true[int(k)] for k in rows["station"]] * wave)
    behaviours, _ = explain_run(rows, run.job, run.speed_log)
    seen = [b for b in behaviours.stations if b.channel == "circumferential"]
    assert len(seen) == len(press.stations) - 1
    for one in seen:
        (term,) = one.terms
        assert term.kind == "period in metres"
        assert abs(term.size.value - abs(true[one.station])) < 3.0 * term.size.sd


@pytest.mark.parametrize("seed", [4001, 4004, 4005, 4007, 4011])
def test_where_a_jump_was_is_told_with_the_doubt_that_frames_and_noise_leave(seed):
    """Marks at four places round the repeat come close together, and then none for many metres."""
    plan = replace(plan_of(seed, ("plate-slip",)), frames=300, marks=4, limit="", edges=False)
    run = bank_run(seed, plan)
    behaviours, _ = explain_run(run.rows, run.job, run.speed_log)
    (place,) = (
        setting.estimate
        for finding in behaviours.findings
        if finding.kind == "step"
        for setting in finding.term.settings
        if setting.name == "at_m"
    )
    widest = np.diff(np.unique(run.rows["web_m"])).max()
    assert abs(place.value - run.truth.faults[0].fault.at_m) < 3.0 * place.sd
    assert place.sd < widest
