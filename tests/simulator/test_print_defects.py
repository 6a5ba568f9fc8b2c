"""Roughness, rim, pinholes, specks and artwork are what their settings say."""

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.job.layout import Bar, Disc
from regscan.simulator.chance import smooth_field
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Patch, Print, Sensor, Shot, Specks
from tests.simulator.drawn_job import LINEAR, darkness, job_of

CLOSE = Camera(0.004, 0.004, tone="linear")


def draw(print_look, shape, *, shot, camera=LINEAR, blur=0.6):
    look = Look(print_look, Lens(blur), Sensor(bits=16))
    return draw_frame(job_of({"black": shape}), camera, None, look, shot)[0].pixels


def edge_wander(seed, roughness_um, length_um):
    """Where the upper edge of a long bar lies in each column, um."""
    look = Print(roughness_um=roughness_um, roughness_length_um=length_um)
    pixels = draw(look, Bar(4.0, 0.4), shot=Shot(150, 640, seed=seed), camera=CLOSE)
    upper = darkness(pixels)[:75]
    edge = -upper.sum(axis=0) / upper[74].mean()
    return 4.0 * edge


def test_roughness_has_the_amplitude_and_the_length_asked_for():
    spread, memory = [], []
    for seed in range(16):
        wander = edge_wander(seed, 5.0, 60.0)
        spread.append(np.mean((wander - wander.mean()) ** 2))
        off = wander - wander.mean()
        memory.append(np.mean(off[:-15] * off[15:]))  # 15 px of 4 um: one length on
    assert np.sqrt(np.mean(spread)) == pytest.approx(5.0, rel=0.08)
    assert np.mean(memory) / np.mean(spread) == pytest.approx(np.exp(-1.0), abs=0.08)


def test_a_smooth_field_has_unit_sd_and_no_mean():
    rng = np.random.default_rng(3)
    field = np.stack([smooth_field((200, 150), 6.0, rng) for _ in range(30)])
    assert field.std() == pytest.approx(1.0, abs=0.04)
    assert field.mean() == pytest.approx(0.0, abs=0.03)


def test_no_roughness_no_wander():
    assert np.ptp(edge_wander(1, 0.0, 60.0)) == 0.0


def test_squeeze_out_darkens_the_rim():
    job = job_of({"brown": Disc(1.0)})
    look = Look(Print(rim=1.0, rim_um=180.0), Lens(0.5), Sensor(bits=16))
    pixels = draw_frame(job, LINEAR, None, look, Shot(120, 130))[0].pixels[..., 1]
    middle = pixels[59, 64]
    rim = pixels[59].min()
    light = pixels[0, 0]
    # Twice the film at its thickest: the square of what one film lets through.
    assert rim / light == pytest.approx((middle / light) ** 2, rel=0.06)
    assert rim < 0.5 * middle


def test_pinholes_take_their_share_of_the_ink():
    shot = Shot(220, 240, seed=4)
    whole = darkness(draw(Print(), Disc(2.0), shot=shot)).sum()
    holed = darkness(draw(Print(pinholes_per_mm2=40.0, pinhole_um=40.0), Disc(2.0), shot=shot))
    # E[d^2] of a lognormal with sigma 0.3 is d0^2 exp(2 sigma^2).
    share = 40.0 * np.pi / 4 * 0.04**2 * np.exp(2 * 0.3**2)
    assert 1.0 - holed.sum() / whole == pytest.approx(share, rel=0.3)
    assert holed.min() >= -1.0


def test_specks_are_as_many_as_asked_for():
    from scipy import ndimage

    look = Look(lens=Lens(0.7), specks=Specks(12, 80.0, ("black",)))
    job = job_of({"black": Disc(0.4)})
    shot = Shot(400, 600, origin_px=(-200, -200), seed=9)
    frame, truth = draw_frame(job, LINEAR, None, look, shot)
    _, count = ndimage.label(darkness(frame.pixels) > 60)
    assert 9 <= count <= 12  # two may touch, one may lie across the border
    assert len(truth.marks) == 1  # a speck is no mark


def test_artwork_lies_in_its_place_and_moves_with_its_ink():
    job = job_of({"black": Disc(0.3), "cyan": Disc(0.3)})
    patch = Patch("cyan", 1.2, 0.0, length_mm=0.36, width_mm=0.96)
    look = Look(lens=Lens(0.7), patches=(patch,))
    shot = Shot(300, 320, origin_px=(80.0, 80.0))
    for late in (0.0, 0.12):
        pixels = draw_frame(job, LINEAR, {"cyan": (late, 0.0)}, look, shot)[0].pixels
        rows, cols = np.nonzero(pixels[120:, :, 0] < 100)
        assert rows.mean() + 120 == pytest.approx(80 + (1.2 + late) / 0.012, abs=0.1)
        assert cols.mean() == pytest.approx(80.0, abs=0.1)
        assert len(rows) == pytest.approx(30 * 80, rel=0.05)


def test_grain_is_in_grey_levels():
    look = Look(sensor=Sensor(bits=16), grain_grey=2.0)
    frame, _ = draw_frame(job_of({"black": Disc(0.1)}), LINEAR, None, look, Shot(300, 400))
    grey = frame.pixels[:120, :, 1] / 65535 * 255
    assert grey.std() == pytest.approx(2.0, rel=0.1)
