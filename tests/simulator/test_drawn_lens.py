"""Softness, smear and light of drawn frames against their definitions."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Bar, Disc
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Sensor, Shot
from tests.simulator.drawn_job import CAMERA, LINEAR, centroid, edge_spread, job_of

FINE_COUNTS = Sensor(bits=16)


def step_profile(lens, *, speed_m_min=None, camera=LINEAR, phase_px=0.0):
    """Values along a column through the upper edge of a wide bar."""
    job = job_of({"black": Bar(1.5, 1.2)})
    shot = Shot(160, 200, origin_px=(79.5 + phase_px, 99.5), speed_m_min=speed_m_min)
    frame, _ = draw_frame(job, camera, None, Look(lens=lens, sensor=FINE_COUNTS), shot)
    # Near the edge only: one count of rounding far away would weigh heavily.
    return frame.pixels[12:48, 100, 1].astype(float)


@pytest.mark.parametrize("blur", [0.5, 1.0, 2.5])
def test_edge_softness_is_the_gaussian_asked_for_plus_the_pixel_s_own_square(blur):
    phases = (np.arange(8) + 0.5) / 32  # over one of the four fine squares of a pixel
    spreads = [edge_spread(step_profile(Lens(blur), phase_px=phase))[1] for phase in phases]
    # A square of one pixel has the variance 1/12; the steps between pixels another 1/12.
    assert np.mean(spreads) == pytest.approx(blur**2 + 1 / 12 + 1 / 12, abs=0.002)


def test_motion_smears_by_speed_times_flash():
    still_at, still = edge_spread(step_profile(Lens(1.0, strobe_us=20.0)))
    moved_at, moved = edge_spread(step_profile(Lens(1.0, strobe_us=20.0), speed_m_min=150.0))
    smear_px = 150.0 / 60.0 * 20e-6 / 12e-6  # 50 um: check value of common practice, v t
    assert moved - still == pytest.approx(smear_px**2 / 12, rel=0.02)
    assert moved_at == pytest.approx(still_at, abs=0.002)  # centred on the flash


def test_motion_smears_along_the_web_only():
    sideways = Camera(0.012, 0.012, "left", "up", tone="linear")
    lens = Lens(1.0, strobe_us=40.0)
    still = edge_spread(step_profile(lens, camera=sideways))
    moved = edge_spread(step_profile(lens, speed_m_min=150.0, camera=sideways))
    assert moved == pytest.approx(still, abs=0.002)


@pytest.mark.parametrize("turn", [0.0, 7.0])
def test_smear_leaves_the_centre_alone(turn):
    camera = Camera(0.012, 0.012, rotation_deg=turn, tone="linear")
    look = Look(lens=Lens(0.8, strobe_us=30.0), sensor=FINE_COUNTS)
    shot = Shot(140, 150, origin_px=(70.3, 74.8), speed_m_min=180.0)
    frame, _ = draw_frame(job_of({"black": Disc(0.6)}), camera, None, look, shot)
    assert centroid(frame.pixels) == pytest.approx((70.3, 74.8), abs=0.001)


@pytest.mark.parametrize("camera", [CAMERA, LINEAR])
def test_slope_is_in_grey_levels_of_the_substrate(camera):
    look = Look(lens=Lens(slope_grey=20.0, slope_deg=0.0), sensor=FINE_COUNTS)
    frame, _ = draw_frame(job_of({"black": Disc(0.3)}), camera, None, look, Shot(60, 200))
    grey = frame.pixels[0, :, 1] / 65535 * 255
    assert grey[-1] - grey[0] == pytest.approx(20.0, abs=0.05)
    assert np.ptp(frame.pixels[:, 0, 1]) == 0


def test_vignetting_darkens_the_corners():
    look = Look(lens=Lens(vignette_grey=30.0), sensor=FINE_COUNTS)
    shot = Shot(101, 201, origin_px=(20.0, 40.0))
    frame, _ = draw_frame(job_of({"black": Disc(0.2)}), CAMERA, None, look, shot)
    grey = frame.pixels[..., 1] / 65535 * 255
    assert grey[50, 100] - grey[0, 0] == pytest.approx(30.0, abs=0.05)
    assert grey[50, 100] - grey[50, 200] == pytest.approx(15.0, abs=0.05)


def test_blur_acts_on_light_not_on_coded_values():
    shot, lens = Shot(160, 200), Lens(2.0)
    job = job_of({"black": Bar(1.5, 1.2)})
    look = Look(lens=lens, sensor=FINE_COUNTS)
    coded = draw_frame(job, CAMERA, None, look, shot)[0].pixels / 65535
    light = draw_frame(job, LINEAR, None, look, shot)[0].pixels / 65535
    back = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    np.testing.assert_allclose(back, light, atol=2e-4)
