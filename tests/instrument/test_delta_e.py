"""Colour differences against colours whose Lab is known, and pairs of a published table."""

import numpy as np
import pytest

from regscan.instrument.delta_e import difference, lab_of
from regscan.job.job import Colour
from regscan.marks.seeing.inks import colour_light


@pytest.mark.parametrize(
    "lab", [(95, 0, -2), (48, 74, -3), (16, 0, 0), (50, 20, 20), (70, -20, 30)]
)
def test_light_goes_back_to_the_lab_it_came_from(lab):
    """marks.inks goes the other way with a matrix of its own."""
    assert lab_of(colour_light(Colour("lab", lab))) == pytest.approx(lab, abs=0.01)


def test_white_and_grey_have_no_hue():
    assert lab_of(np.ones(3)) == pytest.approx((100.0, 0.0, 0.0), abs=0.02)
    # CIE: L* 50 is a luminance of 0.1842 (from memory).
    assert lab_of(np.full(3, 0.18419)) == pytest.approx((50.0, 0.0, 0.0), abs=0.02)
    assert lab_of(np.array([0.18419])) == pytest.approx((50.0, 0.0, 0.0), abs=0.02)


def test_a_difference_has_no_direction_and_none_to_itself():
    one, other = np.array([0.2, 0.3, 0.4]), np.array([0.25, 0.3, 0.35])
    assert difference(one, one) == 0.0
    assert difference(one, other) == pytest.approx(difference(other, one))


def test_ciede2000_as_published():
    """Sharma, Wu and Dalal, Color Res. Appl. 30(1) 2005, pairs 1, 7 and 25 (from memory).

    Through light and back: the pairs lie within sRGB, so nothing is clipped.
    """
    from skimage.color import deltaE_ciede2000

    pairs = [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ]
    for one, other, wanted in pairs:
        assert float(deltaE_ciede2000(one, other)) == pytest.approx(wanted, abs=1e-4)
    light = [colour_light(Colour("lab", lab)) for lab in pairs[1][:2]]
    assert difference(*light) == pytest.approx(2.3669, abs=0.01)
