"""The outside colours against their own published XYZ, and against a second colour engine."""

import numpy as np
import pytest
from PIL import Image, ImageCms

from outside.camera import srgb_coded
from outside.colours import PROCESS, all_combinations, linear_srgb, read_solids, xyz_d50

SOLIDS = read_solids()
each_solid = pytest.mark.parametrize(
    "solid", SOLIDS.values(), ids=lambda s: "+".join(sorted(s.inks)) or "paper"
)


def test_all_sixteen_combinations_are_there():
    assert sorted(map(sorted, SOLIDS)) == sorted(map(sorted, all_combinations(PROCESS)))


@each_solid
def test_lab_gives_the_published_xyz(solid):
    # 0.005 is the rounding of the published figures. Their Z needs a D50 white of about
    # 82.48 where the library's has 82.51, a share of 4e-4.
    published = np.array(solid.xyz)
    wrong = np.abs(100 * xyz_d50(solid.lab) - published) - (0.005 + 4e-4 * published)
    assert (wrong <= 0).all()


@each_solid
def test_light_agrees_with_little_cms(solid):
    """Little CMS comes with Pillow: its own matrices, its own adaptation from D50."""
    lightness, a, b = round(solid.lab[0] * 2.55), round(solid.lab[1]), round(solid.lab[2])
    bands = [Image.new("L", (1, 1), band) for band in (lightness, a + 128, b + 128)]
    engine = ImageCms.buildTransform(
        ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB"
    )
    theirs = np.asarray(ImageCms.applyTransform(Image.merge("LAB", bands), engine))[0, 0]
    ours = 255 * srgb_coded(linear_srgb((lightness / 2.55, a, b)))
    # Its 8-bit engine is good to some levels where a channel is nearly black.
    assert ours == pytest.approx(theirs.astype(float), abs=4.5)


def test_white_stays_white():
    assert linear_srgb((100.0, 0.0, 0.0)) == pytest.approx([1, 1, 1], abs=5e-4)
