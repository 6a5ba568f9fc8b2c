"""Ink colours as light: against an outside colour engine, and inks over each other."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.errors import BadJob
from regscan.job.job import Colour
from regscan.job.layout import Square
from regscan.simulator.draw import draw_frame
from regscan.simulator.ink import DARKEST, lab_to_light, passes, srgb_to_light
from regscan.simulator.layers import all_layers
from regscan.simulator.look import Lens, Look, Overprint, Sensor, Shot
from tests.simulator.drawn_job import LINEAR, job_of

# Inside sRGB, so that no engine has to clip: paper, black and yellowish solids of FOGRA39L
# (published) and some colours of no particular origin.
LABS = [
    (95.0, 0.0, -2.0),
    (16.0, 0.0, 0.0),
    (47.0, 50.0, 30.0),
    (60.0, -20.0, 20.0),
    (50.0, 5, -30),
]


@pytest.mark.parametrize("lab", LABS)
def test_lab_agrees_with_littlecms(lab):
    cms = pytest.importorskip("PIL.ImageCms")
    from PIL import Image

    # Pillow's 8-bit Lab: L scaled to 255, a and b as signed bytes.
    coded = bytes([round(lab[0] * 2.55), int(lab[1]) % 256, int(lab[2]) % 256])
    picture = Image.frombytes("LAB", (1, 1), coded)
    turn = cms.buildTransform(cms.createProfile("LAB"), cms.createProfile("sRGB"), "LAB", "RGB")
    theirs = np.array(cms.applyTransform(picture, turn).getpixel((0, 0)), dtype=float)
    ours = lab_to_light((round(lab[0] * 2.55) / 2.55, *lab[1:]))
    coded_ours = np.where(ours <= 0.0031308, 12.92 * ours, 1.055 * ours ** (1 / 2.4) - 0.055)
    np.testing.assert_allclose(255 * coded_ours, theirs, atol=1.5)


def test_white_is_white_and_black_is_not_negative():
    np.testing.assert_allclose(lab_to_light((100.0, 0.0, 0.0)), 1.0, atol=2e-4)
    assert lab_to_light((55.0, -37.0, -50.0)).min() == DARKEST


def test_srgb_midgrey():
    # IEC 61966-2-1: 0.5 coded is 0.2140 light.
    assert srgb_to_light(np.array([0.0, 0.5, 1.0])) == pytest.approx([0.0, 0.21404, 1.0], abs=1e-5)


def over(covers=None, overprints=()):
    """Cyan and magenta squares half over each other: (paper, cyan, both, magenta) light."""
    job = job_of({"cyan": Square(0.6), "magenta": Square(0.6)}, pitch_mm=0.3, covers=covers)
    look = Look(lens=Lens(0.5), sensor=Sensor(exposure=1.0, bits=16), overprints=overprints)
    frame, truth = draw_frame(job, LINEAR, None, look, Shot(100, 140))
    row, left = round(truth.marks[0].row_px), truth.marks[0].col_px
    columns = [round(left + mm / 0.012) for mm in (-0.15, 0.15, 0.45)]
    return frame.pixels[2, 2] / 65535, *(frame.pixels[row, c] / 65535 for c in columns)


def test_transparent_inks_multiply():
    paper, cyan, both, magenta = over()
    np.testing.assert_allclose(both, cyan * magenta / paper, atol=1e-4)
    np.testing.assert_allclose(cyan, lab_to_light((55.0, -37.0, -50.0)), atol=2e-3)


def test_an_opaque_ink_covers_what_lies_below():
    _, cyan, both, magenta = over({"magenta": "opaque"})
    np.testing.assert_allclose(both, magenta, atol=1e-4)
    assert np.abs(cyan - magenta).max() > 0.3


def test_a_given_overprint_colour_replaces_the_product():
    # FOGRA39L, solid cyan and magenta: Lab 24 22 -46 (published).
    blue = Colour("lab", (24.0, 22.0, -46.0))
    _, cyan, both, magenta = over(overprints=(Overprint(frozenset({"cyan", "magenta"}), blue),))
    np.testing.assert_allclose(both, lab_to_light((24.0, 22.0, -46.0)), atol=1e-4)
    np.testing.assert_allclose((cyan, magenta), over()[1::2], atol=1e-4)


def test_an_invisible_ink_leaves_no_mark():
    job = job_of(covers={"green": "invisible"})
    _, truth = draw_frame(job, LINEAR)
    assert "green" not in {mark.ink for mark in truth.marks}
    assert len(truth.marks) == 5


def test_a_colour_not_taught_yet_cannot_be_drawn():
    job = job_of()
    ink = replace(job.inks[0], colour=Colour("taught", None))
    with pytest.raises(BadJob, match=r"inks\.yellow.*no colour"):
        draw_frame(replace(job, inks=(ink, *job.inks[1:])), LINEAR)


def test_a_taught_colour_is_light_itself():
    job = job_of()
    paper = replace(job, substrate=Colour("taught", (0.8, 0.7, 0.6)))
    ink = replace(job.inks[0], colour=Colour("taught", (0.4, 0.35, 0.06)))
    assert passes(ink, paper) == pytest.approx([0.5, 0.5, 0.1])


def test_a_camera_sees_the_stations_before_it():
    from regscan.job.job import CameraPost

    job = job_of()
    posts = (CameraPost("early", 2, 0.5), CameraPost("end", 6, 2.0))
    job = replace(job, press=replace(job.press, cameras=posts))
    _, early = draw_frame(job, LINEAR, shot=Shot(camera="early"))
    assert [mark.ink for mark in early.marks] == ["yellow", "magenta"]
    with pytest.raises(KeyError):
        draw_frame(job, LINEAR, shot=Shot(camera="nowhere"))


def test_inks_are_laid_in_print_order_whatever_the_layout_s():
    job = job_of()
    job = replace(job, marks=job.marks[::-1])
    _, truth = draw_frame(job, LINEAR)
    layers = all_layers(job, LINEAR, truth, Look(), Shot())
    assert [layer.ink.name for layer in layers] == [s.ink for s in job.press.stations]
