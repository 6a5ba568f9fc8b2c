"""Each defect of a mark is what its record says, by plain counting of ink."""

import math

import numpy as np
import pytest

from regscan.job.layout import Bar, Disc, Square
from regscan.simulator.defects import Double, HalfPrint, Halftone, Hickey, Slur
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Sensor, Shot
from tests.simulator.drawn_job import LINEAR, darkness, job_of

MM = LINEAR.mm_per_px


def ink_of(shape, *defects, blur=0.5, size=(240, 260)):
    """Share of ink in every pixel of a frame with one black mark in its middle."""
    look = Look(lens=Lens(blur), sensor=Sensor(bits=16), defects=defects)
    frame, truth = draw_frame(job_of({"black": shape}), LINEAR, None, look, Shot(*size))
    dark = darkness(frame.pixels)
    solid = draw_frame(
        job_of({"black": Square(4.0)}), LINEAR, None, Look(sensor=Sensor(bits=16)), Shot(*size)
    )[0].pixels.astype(float)
    full = frame.pixels[0, 0].astype(float).sum() - solid[120, 130].sum()
    return dark / full, truth.marks[0]


def area_mm2(ink):
    return ink.sum() * MM**2


@pytest.mark.parametrize("tint", [0.3, 0.5, 0.7])
def test_a_screen_inks_its_share_of_the_area(tint):
    screen = Halftone("black", tint, lines_per_cm=60.0, angle_deg=37.5, phase=(0.3, 0.1))
    ink, _ = ink_of(Square(2.4), screen)
    assert area_mm2(ink) / 2.4**2 == pytest.approx(tint, abs=0.02)


def test_a_screen_repeats_with_its_ruling_along_its_angle():
    # 50 lines/cm is a period of 0.2 mm; the web travels up, so 0 degrees is along the rows' axis.
    ink, _ = ink_of(Square(2.4), Halftone("black", 0.4, lines_per_cm=50.0, angle_deg=0.0))
    line = ink[40:200].mean(axis=1)
    power = np.abs(np.fft.rfft(line - line.mean(), 4096))
    period_mm = 4096 / power.argmax() * MM
    assert period_mm == pytest.approx(0.2, rel=0.01)


def test_a_screen_s_phase_moves_the_dots_and_not_the_outline():
    there = Halftone("black", 0.4, 50.0, 0.0)
    half = Halftone("black", 0.4, 50.0, 0.0, phase=(0.5, 0.5))
    one, mark = ink_of(Square(2.4), there)
    other, _ = ink_of(Square(2.4), half)
    row, col = round(mark.row_px), round(mark.col_px)
    assert one[row, col] > 0.9
    assert other[row, col] < 0.1
    for ink in (one, other):
        rows, cols = np.nonzero(ink > 0.5)
        assert np.ptp(rows) * MM == pytest.approx(2.4, abs=0.15)
        assert np.ptp(cols) * MM == pytest.approx(2.4, abs=0.15)


def test_a_hickey_is_a_spot_in_a_bare_ring_at_its_place():
    hickey = Hickey("black", 0.3, -0.2, diameter_um=100.0, halo_um=80.0)
    ink, mark = ink_of(Disc(2.0), hickey)
    whole, _ = ink_of(Disc(2.0))
    ring_mm2 = math.pi * (0.13**2 - 0.05**2)
    assert area_mm2(whole - ink) == pytest.approx(ring_mm2, rel=0.02)
    rows, cols = LINEAR.step_to_pixels(0.3, -0.2)
    row, col = round(mark.row_px + rows), round(mark.col_px + cols)
    assert ink[row, col] > 0.9
    assert ink[row + round(0.09 / MM), col] < 0.1


def test_half_a_print_is_half_the_ink_on_the_right_side():
    ink, mark = ink_of(Disc(2.0), HalfPrint("black", toward_deg=90.0, at_mm=0.0))
    assert area_mm2(ink) == pytest.approx(math.pi / 2.0, rel=0.01)
    # 90 degrees is + lateral, the drive side, which this camera has on the right.
    left, right = ink[:, : round(mark.col_px)].sum(), ink[:, round(mark.col_px) :].sum()
    assert right < 0.03 * left


def test_a_fading_impression_leaves_half_the_ink_on_its_line():
    ink, mark = ink_of(Square(2.4), HalfPrint("black", 0.0, 0.2, fade_mm=0.4))
    rows, _ = LINEAR.step_to_pixels(1.0, 0.0)  # px per mm toward the unwind
    along = ink[:, round(mark.col_px)]
    places = mark.row_px + rows * np.array([0.2 - 0.1, 0.2, 0.2 + 0.1])
    seen = np.interp(places, np.arange(along.size), along)
    assert seen == pytest.approx([0.75, 0.5, 0.25], abs=0.02)


def test_a_double_is_a_weaker_copy_beside_the_mark():
    ink, mark = ink_of(Disc(0.6), Double("black", 1.0, 0.25, strength=0.4))
    rows, cols = LINEAR.step_to_pixels(1.0, 0.25)
    assert area_mm2(ink) == pytest.approx(1.4 * math.pi * 0.3**2, rel=0.01)
    copy = ink.copy()
    middle = mark.row_px + rows / 2.0
    copy[(np.arange(240) < middle) if rows > 0 else (np.arange(240) > middle)] = 0.0
    at = [(copy.sum(axis=1 - k) * np.arange(copy.shape[k])).sum() / copy.sum() for k in (0, 1)]
    assert at == pytest.approx([mark.row_px + rows, mark.col_px + cols], abs=0.03)
    assert copy.max() == pytest.approx(0.4, abs=0.01)


def test_slur_drags_out_the_trailing_edge_alone():
    clean, mark = ink_of(Bar(2.0, 0.6))
    ink, _ = ink_of(Bar(2.0, 0.6), Slur("black", 80.0, strength=0.8))
    extra = (ink - clean)[:, round(mark.col_px)]
    rows, _ = LINEAR.step_to_pixels(1.0, 0.0)  # the unwind, where the trailing edge is
    toward = np.sign(rows) * (np.arange(extra.size) - mark.row_px)
    assert np.abs(extra[toward < 0.3 / MM - 3.0]).max() < 0.02
    # It falls from 0.8 to nothing over 80 um: half of that on average.
    assert extra.sum() * MM == pytest.approx(0.8 * 0.080 / 2.0, rel=0.1)


def test_defects_are_of_their_own_ink_s_marks():
    look = Look(sensor=Sensor(bits=16), defects=(HalfPrint("magenta", 0.0, 0.0),))
    bare = Look(sensor=Sensor(bits=16))
    job = job_of({"cyan": Disc(0.6), "magenta": Disc(0.6)})
    with_, truth = draw_frame(job, LINEAR, None, look, Shot(200, 300))
    without, _ = draw_frame(job, LINEAR, None, bare, Shot(200, 300))
    changed = np.nonzero((with_.pixels != without.pixels).any(axis=(0, 2)))[0]
    magenta = truth.mark("magenta")
    assert changed.size
    # Its radius and a few px of the lens; cyan's edge is five times as far.
    assert abs(changed - magenta.col_px).max() < 0.3 / MM + 6.0
