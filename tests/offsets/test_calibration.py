"""The doubt of a calibration in offsets: size, sign, what two colours share and what not."""

import math
from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import CalibrationDoubt, Lens
from regscan.marks.mark import Mark
from regscan.offsets.calibration import calibration_error, calibration_sds
from regscan.offsets.measure import measure_offsets
from regscan.offsets.offset import difference
from tests.marks.conftest import LAB, six_colours

SIZE = (1024, 1280)
PLAIN = Camera(0.012, 0.012)


def doubtful(**doubt):
    return replace(PLAIN, lens=Lens(*SIZE, (511.5, 639.5), doubt=CalibrationDoubt(**doubt)))


def marks_in_place(job, camera, var=1e-6):
    """Every mark of the layout exactly where this camera sees it, black at (300, 400) px."""
    zero = next(m for m in job.marks if m.ink == "black")
    home = camera.to_web(300.0, 400.0)
    found = []
    for m in job.marks:
        row, col = camera.to_pixels(
            home[0] + m.circumferential_mm - zero.circumferential_mm,
            home[1] + m.lateral_mm - zero.lateral_mm,
        )
        found.append(Mark(m.ink, "", "ok", row, col, var, var, 0.0))
    return found


def offsets_by_ink(camera):
    job = six_colours()
    return {o.ink: o for o in measure_offsets(marks_in_place(job, camera), job, camera)}


def test_without_a_lens_nothing_is_added():
    assert calibration_error(PLAIN, 5.0, 3.0).of("circumferential") == ()
    assert calibration_sds(six_colours(), {"": PLAIN}) == {}


def test_scale_and_rotation_by_hand():
    """100 ppm of 5 mm is 0.5 um; 0.1 degrees over 3 mm is 5.24 um (tan 0.1 deg = 0.0017453)."""
    camera = doubtful(circumferential_scale_ppm=100.0, lateral_scale_ppm=50.0, rotation_deg=0.1)
    error = calibration_error(camera, 5.0, 3.0)
    assert error.of("circumferential") == pytest.approx((0.0005, 0.0017453 * 3.0), rel=1e-4)
    assert error.of("lateral") == pytest.approx((0.00015, -0.0017453 * 5.0), rel=1e-4)
    assert error.own_mm == 0.0


def test_doubt_grows_with_the_distance_and_bending_levels_off():
    camera = doubtful(residual_px=0.1)
    radius_mm = math.hypot(*SIZE) / 2.0 * 0.012
    near, far, further = (
        calibration_error(camera, share * radius_mm, 0.0).own_mm for share in (0.05, 0.5, 1.0)
    )
    assert near == pytest.approx(far / 10.0)
    assert far == further == pytest.approx(math.sqrt(2.0) * 0.1 * 0.012)


def test_offsets_carry_it_and_the_reference_does_not():
    camera = doubtful(circumferential_scale_ppm=200.0, rotation_deg=0.05)
    with_doubt, without = offsets_by_ink(camera), offsets_by_ink(PLAIN)
    for ink in LAB:
        assert with_doubt[ink].circumferential_mm == pytest.approx(
            without[ink].circumferential_mm, abs=1e-9
        )
    assert with_doubt["black"].circumferential_sd_mm == 0.0
    magenta, plain = with_doubt["magenta"], without["magenta"]
    job = six_colours()
    own, base = (next(m for m in job.marks if m.ink == ink) for ink in ("magenta", "black"))
    along = own.circumferential_mm - base.circumferential_mm
    across = own.lateral_mm - base.lateral_mm
    expected = math.hypot(plain.circumferential_sd_mm, 2e-4 * along, math.radians(0.05) * across)
    assert magenta.circumferential_sd_mm == pytest.approx(expected, rel=1e-6)
    assert magenta.circumferential_shared_sd_mm == plain.circumferential_shared_sd_mm


def test_differences_by_simulation():
    """Cameras with scale and rotation off by their doubt, 4000 draws: spread of every pair's
    difference against what is claimed for it. The spread of 4000 is known to 1.1 %."""
    camera = doubtful(circumferential_scale_ppm=300.0, lateral_scale_ppm=400.0, rotation_deg=0.03)
    job, claimed = six_colours(), offsets_by_ink(camera)
    rng = np.random.default_rng(1)
    marks = marks_in_place(job, PLAIN, var=1e-12)
    drawn = {ink: [] for ink in LAB}
    for along, across, turn in rng.standard_normal((4000, 3)) * (3e-4, 4e-4, math.radians(0.03)):
        for mark, design in zip(marks, job.marks, strict=True):
            row, col = mark.row_px - 300.0, mark.col_px - 400.0
            web = np.array(PLAIN.step_to_web(row, col))
            # A turned camera shows a lateral way as circumferential, and the other way round.
            off = (along * web[0] + turn * web[1], across * web[1] - turn * web[0])
            drawn[design.ink].append(off)
    arrays = {ink: np.array(values) for ink, values in drawn.items()}
    for one, other in (
        ("cyan", "magenta"),
        ("cyan", "brown"),
        ("green", "yellow"),
        ("cyan", "black"),
    ):
        seen = (arrays[one] - arrays[other]).std(axis=0)
        for k, axis in enumerate(("circumferential", "lateral")):
            _, sd = difference(claimed[one], claimed[other], axis)
            marks_own = math.sqrt(2e-6) * 0.012
            assert math.hypot(seen[k], marks_own) == pytest.approx(sd, rel=0.05)


def test_one_number_for_every_view_and_axis():
    job = six_colours()
    camera = doubtful(circumferential_scale_ppm=200.0, rotation_deg=0.05, residual_px=0.02)
    sds = calibration_sds(job, {"end": camera, "first": PLAIN})
    assert {key[0] for key in sds} == {"end"}
    assert {key[2] for key in sds} == set(LAB) - {"black"}
    offsets = offsets_by_ink(camera)
    for (_, edge, ink, axis), sd in sds.items():
        assert edge == ""
        offset = offsets[ink]
        own = math.sqrt(2e-6) * 0.012
        assert math.hypot(sd, own) == pytest.approx(offset.sd_mm(axis), rel=1e-6)
