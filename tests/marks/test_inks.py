"""Ink colours against published characterisation data and an independent colour library."""

import csv
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from skimage.color import lab2xyz, xyz2lab

from regscan.job.job import Colour
from regscan.marks.seeing import inks
from regscan.marks.seeing.inks import colour_light, line_distances, palette_of
from regscan.marks.seeing.inkstep import InkStep

FOGRA39 = Path(__file__).parents[1] / "outside" / "data" / "fogra39_solids.csv"


def bradford_d50_to_rgb():
    """XYZ (D50) to linear sRGB from first principles: primaries, white points, Bradford.

    Primaries and D65 white of IEC 61966-2-1; Bradford cone matrix from the ICC
    specification's annex on chromatic adaptation (both from memory, high confidence).
    """
    xy = np.array([(0.64, 0.33), (0.30, 0.60), (0.15, 0.06)])
    white = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    columns = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in xy]).T
    rgb_to_xyz = columns * np.linalg.solve(columns, white)
    cone = np.array(
        [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
    )
    d50 = np.array([0.96422, 1.0, 0.82521])
    adapt = np.linalg.inv(cone) @ np.diag((cone @ white) / (cone @ d50)) @ cone
    return np.linalg.inv(rgb_to_xyz) @ adapt


def test_the_remembered_matrix_is_the_one_first_principles_give():
    assert pytest.approx(bradford_d50_to_rgb(), abs=2e-3) == inks._XYZ_D50_TO_RGB


SOLIDS = list(csv.DictReader(FOGRA39.read_text().splitlines()))


@pytest.mark.parametrize("row", SOLIDS, ids=lambda row: row["lab_l"])
def test_published_lab_gives_published_xyz(row):
    """FOGRA39L carries both; its Lab is rounded to whole numbers for the solids."""
    lab = [float(row[k]) for k in ("lab_l", "lab_a", "lab_b")]
    xyz = np.array([float(row[k]) for k in ("xyz_x", "xyz_y", "xyz_z")]) / 100.0
    ours = np.linalg.solve(inks._XYZ_D50_TO_RGB, inks._lab_to_light(np.array(lab)))
    theirs = lab2xyz(lab, illuminant="D50")
    assert ours == pytest.approx(theirs, abs=2e-4)
    assert xyz2lab(ours, illuminant="D50") == pytest.approx(
        xyz2lab(xyz, illuminant="D50"), abs=0.75
    )


def test_white_is_white_and_srgb_is_srgb():
    assert colour_light(Colour("lab", (100.0, 0.0, 0.0))) == pytest.approx([1, 1, 1], abs=2e-3)
    # IEC 61966-2-1: code 188 is 50 % light to half a code.
    assert colour_light(Colour("srgb", (188.0,) * 3)) == pytest.approx([0.503] * 3, abs=0.003)


def test_an_untaught_colour_is_refused():
    with pytest.raises(ValueError, match="not been taught"):
        colour_light(Colour("taught", None))


def test_a_half_covered_pixel_lies_halfway_along_its_inks_line(job):
    palette = palette_of(job, ("cyan", "magenta", "yellow", "black"), mono=False)
    mixed = 0.5 * palette.substrate + 0.5 * palette.ink("magenta")
    distance, cover = line_distances(mixed[None], palette)
    assert distance[0].argmin() == 1
    assert cover[0, 1] == pytest.approx(0.5, abs=0.03)


def test_palettes_are_equal_where_all_their_colours_are(job):
    names = tuple(ink.name for ink in job.inks)
    one, again = (palette_of(job, names, mono=False) for _ in range(2))
    lighter = replace(again, substrate=again.substrate * 0.99)
    taught = replace(again, known={3: again.mix(3)})
    assert one == again
    assert hash(one) == hash(again)
    assert one not in (lighter, taught, palette_of(job, names, mono=True))


def test_some_inks_of_a_palette_have_the_colours_they_had_among_all(job):
    own = palette_of(job, ("cyan", "magenta", "yellow", "black"), mono=False)
    green, brown = np.array([0.1, 0.5, 0.2]), np.array([0.2, 0.1, 0.1])
    first, second, third = (own.names[k] for k in (0, 1, 3))
    taught = replace(own, known={0b1001: green, 0b0011: brown, 0b0110: brown})
    some = taught.of_inks({third, first})
    assert some.names == (first, third)
    assert set(some.known) == {0b11}
    for bits, among_all in {0b01: 0b0001, 0b10: 0b1000, 0b11: 0b1001}.items():
        assert (some.mix(bits) == taught.mix(among_all)).all()
    assert (taught.of_inks({second}).inks == taught.ink(second)).all()


def published_overprints():
    """FOGRA39L: light of every set of the process solids, by which of C, M, Y and K are in it."""
    names = ("cyan_pct", "magenta_pct", "yellow_pct", "black_pct")
    return {
        tuple(row[name] == "100" for name in names): inks._lab_to_light(
            np.array([float(row[k]) for k in ("lab_l", "lab_a", "lab_b")])
        )
        for row in SOLIDS
    }


def test_an_ink_may_lie_in_every_published_overprint_of_it_and_not_in_paper():
    """FOGRA39L: all sixteen sets of the process solids."""
    light = published_overprints()
    paper = light[False, False, False, False]
    for number in range(4):
        solid = light[tuple(k == number for k in range(4))]
        step = InkStep(np.minimum(solid / paper, 1.0), np.zeros(3))
        for which, seen in light.items():
            planes = [np.array([[value]]) for value in seen]
            if which[number]:
                assert step.may_lie_in(planes, paper).all()
        assert not step.may_lie_in([np.array([[value]]) for value in paper], paper).any()
    white = InkStep(np.zeros(3), np.full(3, 0.8))
    assert white.may_lie_in([np.array([[value]]) for value in paper], paper).all()


def test_no_published_overprint_is_a_step_too_large_for_an_ink_but_two_inks_are():
    """FOGRA39L, its sets of solids taken for inks: each on paper and on every set it lacks. Then a
    dark one on black, where both end in one line for half of it: there the step is both inks'."""
    light = published_overprints()
    paper = light[False, False, False, False]
    inks_of = [which for which in light if any(which)]
    for ink, other in itertools.permutations(inks_of, 2):
        if any(a and b for a, b in zip(ink, other, strict=True)):
            continue
        step = InkStep(np.minimum(light[ink] / paper, 1.0), np.zeros(3))
        both = light[tuple(a or b for a, b in zip(ink, other, strict=True))]
        steps = np.array([light[ink], both]), np.array([paper, light[other]])
        assert not step.too_large(*steps).any(), (ink, other)
    dark, black = light[True, True, True, False], light[False, False, False, True]
    step = InkStep(np.minimum(dark / paper, 1.0), np.zeros(3))
    inside = np.array([light[True, True, True, True]] * 2)
    assert step.too_large(inside, np.array([black, paper])).tolist() == [False, True]
