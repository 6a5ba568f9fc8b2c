import pytest

from regscan.job.job import Colour
from regscan.report.swatches import NO_COLOUR, swatch


@pytest.mark.parametrize(
    ("lab", "rgb"),
    [
        # White and black of any Lab-to-sRGB conversion.
        ((100.0, 0.0, 0.0), (255, 255, 255)),
        ((0.0, 0.0, 0.0), (0, 0, 0)),
        # L* 53.585 is linear light 0.2158 = sRGB code 128 (IEC 61966-2-1 curve, recomputed).
        ((53.585, 0.0, 0.0), (128, 128, 128)),
        # The sRGB red primary under D50, from memory: 54.29 80.81 69.89.
        ((54.29, 80.81, 69.89), (255, 0, 0)),
    ],
)
def test_lab_d50_becomes_srgb(lab, rgb):
    text = swatch(Colour("lab", lab))
    found = tuple(int(text[k : k + 2], 16) for k in (1, 3, 5))
    assert max(abs(a - b) for a, b in zip(found, rgb, strict=True)) <= 2


def test_srgb_is_kept_and_unknown_colours_are_grey():
    assert swatch(Colour("srgb", (244.0, 244.0, 240.0))) == "#f4f4f0"
    assert swatch(None) == swatch(Colour("taught", None)) == NO_COLOUR
    assert swatch(Colour("taught", (1.0, 0.0, 0.2158))) == "#ff0080"
