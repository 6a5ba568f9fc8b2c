"""Register to the design and to the approved sheet: one number moves, its doubt comes with it."""

import math
from dataclasses import replace

import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Approved
from regscan.marks.mark import Mark
from regscan.offsets.measure import measure_offsets
from regscan.offsets.zero import zero_of
from tests.marks.conftest import six_colours

CAMERA = Camera(0.01, 0.01)
APPROVED = {
    "cyan": Approved(0.030, -0.020, 0.003, 0.004),
    "magenta": Approved(-0.010, 0.005),
}


def job_of(zero="approved", approved=APPROVED, reference="black"):
    job = six_colours()
    marks = tuple(replace(m, approved=approved.get(m.ink, Approved(0.0, 0.0))) for m in job.marks)
    return replace(job, marks=marks, zero=zero, reference=reference)


def in_design(job, sd_px=0.1):
    """Marks exactly as designed."""
    marks = []
    for design in job.marks:
        row, col = CAMERA.to_pixels(design.circumferential_mm, design.lateral_mm)
        spot = dict(row_px=row, col_px=col, row_var=sd_px**2, col_var=sd_px**2, row_col_covar=0.0)
        marks.append(Mark(design.ink, design.edge, "ok", **spot))
    return marks


def offsets_of(job, marks):
    return {o.ink: o for o in measure_offsets(marks, job, CAMERA)}


def test_a_print_in_design_is_off_the_approved_sheet_by_minus_what_that_sheet_is_off():
    job = job_of()
    offsets = offsets_of(job, in_design(job))
    assert offsets["cyan"].circumferential_mm == pytest.approx(-0.030)
    assert offsets["cyan"].lateral_mm == pytest.approx(0.020)
    assert offsets["magenta"].circumferential_mm == pytest.approx(0.010)
    assert offsets["black"].circumferential_mm == 0.0


def test_the_zeros_doubt_is_part_of_the_offsets():
    # Both marks 0.1 px of 0.01 mm: 1 um each, and the zero's own 3 and 4 um.
    job = job_of()
    offsets = offsets_of(job, in_design(job))
    assert offsets["cyan"].circumferential_sd_mm == pytest.approx(math.sqrt(1 + 1 + 9) / 1000)
    assert offsets["cyan"].lateral_sd_mm == pytest.approx(math.sqrt(1 + 1 + 16) / 1000)
    assert offsets["magenta"].lateral_sd_mm == pytest.approx(math.sqrt(2) / 1000)
    # The reference mark's own part is what it was: the zero is not shared with other colours.
    assert offsets["cyan"].lateral_shared_sd_mm == pytest.approx(0.001)


def test_the_design_is_the_zero_unless_the_job_says_otherwise():
    plain, taught = six_colours(), job_of(zero="design")
    assert offsets_of(taught, in_design(taught)) == offsets_of(plain, in_design(plain))
    assert offsets_of(taught, in_design(taught))["cyan"].circumferential_mm == pytest.approx(0.0)


def test_another_reference_takes_its_own_approved_place_off():
    # Against cyan, magenta's zero is what the sheet has between the two: -0.040 and +0.025.
    job = job_of(reference="cyan")
    marks = {mark.ink: mark for mark in job.marks}
    zero = zero_of(job, marks["magenta"], marks["cyan"])
    assert zero.circumferential_mm == pytest.approx(-0.040)
    assert zero.lateral_mm == pytest.approx(0.025)
    assert zero.lateral_sd_mm == pytest.approx(0.004)
    offsets = offsets_of(job, in_design(job))
    assert offsets["magenta"].circumferential_mm == pytest.approx(0.040)
