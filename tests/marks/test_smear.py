"""Ink that runs over on one side of a mark does not take its place along."""

import numpy as np
import pytest

from regscan.job.layout import Diamond, Disc, Square
from regscan.marks.finder import MarkFinder
from regscan.simulator.defects import Double, Slur
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Print, Sensor, Shot
from tests.marks.conftest import LAB, six_colours

DISCS = six_colours((Disc(0.6),) * 6)


def measured(job, camera, defects, seed=1):
    look = Look(sensor=Sensor(noise_grey=2.0), defects=tuple(defects))
    frame, truth = draw_frame(job, camera, {}, look, Shot(480, 640, seed=seed))
    for mark in MarkFinder(job, camera).measure(frame):
        there = truth.mark(mark.ink)
        yield mark, np.array([mark.row_px - there.row_px, mark.col_px - there.col_px])


@pytest.mark.parametrize("job", [DISCS, six_colours((Square(0.55),) * 6)], ids=["disc", "square"])
@pytest.mark.parametrize("length_um", [25.0, 50.0, 80.0])
def test_a_slurred_mark_stays_where_its_leading_edge_says(job, camera, length_um):
    for mark, error in measured(job, camera, [Slur(ink, length_um, 0.7) for ink in LAB]):
        # Its centroid lies about a sixth of the tail's length away: 4 to 13 um, 0.3 to 1 px.
        assert np.abs(error).max() < 0.12
        assert abs(error[0]) < 3.0 * np.sqrt(mark.row_var)


@pytest.mark.parametrize("along_mm", [-0.15, -0.08, 0.08, 0.15])
def test_of_a_mark_printed_twice_the_stronger_print_is_measured(camera, along_mm):
    for mark, error in measured(DISCS, camera, [Double("cyan", along_mm, 0.0, 0.4)]):
        assert np.abs(error).max() < (0.12 if mark.ink == "cyan" else 0.02)
        assert abs(error[0]) < 3.5 * np.sqrt(mark.row_var)


def test_a_slurred_diamond_is_not_said_to_be_well_known(camera):
    """All its edges lean, so a slur looks much like growth and a shift."""
    job = six_colours((Disc(0.6),) * 4 + (Diamond(0.66, 0.66),) * 2)
    for mark, error in measured(job, camera, [Slur(ink, 50.0, 0.7) for ink in LAB]):
        assert abs(error[0]) < 3.0 * np.sqrt(mark.row_var)
        assert abs(error[0]) < 0.25


def test_clean_marks_are_not_taken_for_smeared(job, camera):
    rough = Look(sensor=Sensor(noise_grey=2.0), print=Print(roughness_um=2.0))
    frame, _ = draw_frame(job, camera, {}, rough, Shot(480, 640, seed=3))
    slurs = [mark.printing.slur_um for mark in MarkFinder(job, camera).measure(frame)]
    assert np.abs(slurs).max() < 4.0
