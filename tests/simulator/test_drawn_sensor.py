"""Noise, tone, bits, mosaic and seeds of drawn frames."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Disc
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Print, Sensor, Shot
from tests.simulator.drawn_job import CAMERA, LINEAR, job_of

JOB = job_of()


def pixels(sensor, *, camera=CAMERA, seed=0, print_look=Print()):  # noqa: B008
    look = Look(print_look, Lens(1.0), sensor)
    return draw_frame(JOB, camera, None, look, Shot(seed=seed))[0].pixels


@pytest.mark.parametrize("camera", [CAMERA, LINEAR])
def test_noise_is_in_grey_levels_after_the_tone_curve(camera):
    bare = pixels(Sensor(noise_grey=3.0), camera=camera)[:100].astype(float)
    spread = [bare[..., channel].std() for channel in range(3)]
    assert spread == pytest.approx([np.sqrt(9 + 1 / 12)] * 3, rel=0.02)  # and rounding's 1/12


def test_noise_is_unbiased_and_white():
    noisy = pixels(Sensor(noise_grey=4.0)).astype(float)[:100, :, 1]
    clean = pixels(Sensor()).astype(float)[0, 0, 1]
    assert noisy.mean() == pytest.approx(clean, abs=0.5 + 4 * 4.0 / np.sqrt(noisy.size))
    off = noisy - noisy.mean()
    assert abs(np.mean(off[:, 1:] * off[:, :-1])) / off.var() < 0.02


def test_shot_noise_grows_with_the_root_of_light():
    noisy = pixels(Sensor(bits=16, full_well=10_000), camera=LINEAR)[:100, :, 1] / 65535
    light = pixels(Sensor(bits=16), camera=LINEAR)[0, 0, 1] / 65535
    assert noisy.std() == pytest.approx(np.sqrt(light / 10_000), rel=0.02)


def test_sixteen_bits_are_the_same_picture_in_finer_steps():
    eight, sixteen = pixels(Sensor()), pixels(Sensor(bits=16))
    assert sixteen.dtype == np.uint16
    assert np.abs(eight.astype(float) - sixteen / 257).max() <= 0.5 + 1e-6


@pytest.mark.parametrize("pattern", ["rggb", "bggr", "grbg", "gbrg"])
def test_a_mosaic_keeps_one_channel_per_pixel(pattern):
    full = pixels(Sensor())
    raw = pixels(Sensor(), camera=Camera(0.012, 0.012, mosaic=pattern))
    assert raw.shape == full.shape[:2]
    for place, channel in enumerate(pattern):
        at = np.s_[place // 2 :: 2, place % 2 :: 2]
        np.testing.assert_array_equal(raw[at], full[..., "rgb".index(channel)][at])


def test_mono_is_one_plane_of_luminance():
    grey = pixels(Sensor(mono=True, bits=16), camera=LINEAR) / 65535
    full = pixels(Sensor(bits=16), camera=LINEAR) / 65535
    np.testing.assert_allclose(grey, full @ [0.2126, 0.7152, 0.0722], atol=2e-5)  # Rec. 709


def test_the_same_seed_draws_the_same_pixels_and_another_one_does_not():
    sensor, rough = Sensor(noise_grey=2.0, full_well=5000), Print(roughness_um=4.0)
    first = pixels(sensor, seed=5, print_look=rough)
    np.testing.assert_array_equal(first, pixels(sensor, seed=5, print_look=rough))
    assert (first != pixels(sensor, seed=6, print_look=rough)).mean() > 0.5


def test_more_noise_leaves_the_print_as_it_was():
    rough = Print(roughness_um=4.0, pinholes_per_mm2=5.0)
    quiet = pixels(Sensor(), seed=5, print_look=rough).astype(float)
    noisy = pixels(Sensor(noise_grey=1.0), seed=5, print_look=rough).astype(float)
    assert np.abs(noisy - quiet).max() < 7.0


def test_exposure_scales_the_light():
    half, full = (
        pixels(Sensor(exposure=e, bits=16), camera=LINEAR)[0, 0].astype(float) for e in (0.4, 0.8)
    )
    assert full / half == pytest.approx([2.0] * 3, rel=1e-3)


def test_a_disc_alone_shows_the_ink_s_own_colour():
    job = job_of({"cyan": Disc(0.6)})
    look = Look(sensor=Sensor(exposure=1.0))
    frame, _ = draw_frame(job, CAMERA, None, look, Shot(99, 99))
    # Lab 55 -37 -50 lies outside sRGB in red; green and blue as in test_drawn_ink.
    assert frame.pixels[49, 49, 0] < 15
    assert frame.pixels[49, 49, 2] > 190
