"""The fit on nodes whose errors are known: what it finds, leaves out, and claims of itself."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
from regscan.instrument.grid.doubt import calibration_doubt, smooth_px
from regscan.instrument.grid.fit import fit_grids
from regscan.instrument.grid.lateral import fit_colour
from regscan.instrument.grid.middles import middle_shifts
from regscan.instrument.grid.proof import hold_against
from tests.camera.test_camera import PAIR_NAMES
from tests.instrument.grid.nodes import CAMERA, LENS, PITCH_MM, SIZE, Laid, map_error_um, seen_grid

ANY = Camera(1.0, 1.0)


def found_in(grids, like=ANY):
    return fit_grids(grids, PITCH_MM, like)


def test_exact_nodes_give_the_exact_camera():
    fit = found_in([seen_grid(CAMERA, Laid(), 0.0, 1)])
    camera = fit.camera(ANY)
    assert np.abs(map_error_um(camera, CAMERA)).max() < 1e-3
    assert camera.row_mm_per_px == pytest.approx(0.012, rel=1e-8)
    assert camera.col_mm_per_px == pytest.approx(0.0121, rel=1e-8)
    assert camera.rotation_deg == pytest.approx(1.5, abs=1e-6)
    assert camera.lens.shear_px == pytest.approx(0.6, abs=1e-4)
    assert camera.lens.keystone_px == pytest.approx((2.0, -1.0), abs=1e-4)


@pytest.mark.parametrize(("travel", "side"), PAIR_NAMES)
def test_however_the_picture_lies_on_the_web(travel, side):
    camera = replace(CAMERA, web_travel=travel, drive_side=side)
    fit = found_in(
        [seen_grid(camera, Laid(), 0.01, 2)], replace(ANY, web_travel=travel, drive_side=side)
    )
    found = fit.camera(camera)
    assert (found.web_travel, found.drive_side) == (travel, side)
    assert np.abs(map_error_um(found, camera)).max() < 0.3
    assert found.rotation_deg == pytest.approx(1.5, abs=0.003)


def test_several_frames_share_one_plane_and_turns_are_free():
    laid = [Laid(), Laid(31.0, (200.0, 400.0)), Laid(-12.0, (300.0, 200.0))]
    fit = found_in([seen_grid(CAMERA, one, 0.01, k) for k, one in enumerate(laid)])
    assert fit.layout.one_plane
    assert fit.rms_px == pytest.approx(0.01 * np.sqrt(2.0), rel=0.1)
    assert fit.camera(ANY).rotation_deg == pytest.approx(1.5, abs=0.003)


def test_a_plate_held_askew_shares_only_the_lens():
    """Three frames at different tilts: the first one's plane is the web's."""
    tilts = [(2.0, -1.0), (30.0, 5.0), (-10.0, 25.0)]
    cameras = [replace(CAMERA, lens=replace(LENS, keystone_px=tilt)) for tilt in tilts]
    grids = [seen_grid(c, Laid(), 0.01, k) for k, c in enumerate(cameras)]
    fit = found_in(grids)
    assert not fit.layout.one_plane
    assert fit.rms_px == pytest.approx(0.01 * np.sqrt(2.0), rel=0.15)
    assert np.abs(map_error_um(fit.camera(ANY), CAMERA)).max() < 0.5


def test_strays_are_left_out_and_change_nothing():
    grid = seen_grid(CAMERA, Laid(), 0.01, 4)
    spoilt = grid.places.copy()
    spoilt[::17] += np.random.default_rng(4).choice([-1.0, 1.0], spoilt[::17].shape) * 0.8
    clean, dirty = found_in([grid]), found_in([replace(grid, places=spoilt)])
    assert not dirty.used[0][::17].any()
    assert dirty.used[0].mean() > 0.9
    errors = [np.abs(map_error_um(fit.camera(ANY), CAMERA)).max() for fit in (clean, dirty)]
    assert max(errors) < 0.4  # um; 0.03 px


def test_only_as_many_numbers_as_pay():
    plain = replace(CAMERA, lens=Lens(*SIZE, (239.5, 319.5), radial_px=(2.0,)))
    wide = replace(CAMERA, lens=Lens(*SIZE, (242.0, 310.0), (-40.0, 12.0, -4.0), (2.0, -1.0)))
    # A needless term is let in once in some eighty grids (Schwarz's criterion, 500 numbers).
    needed = [found_in([seen_grid(plain, Laid(), 0.01, k)]).layout.terms.count for k in range(8)]
    assert sum(count > 1 for count in needed) <= 1
    fit = found_in([seen_grid(wide, Laid(k * 9.0), 0.01, k) for k in range(3)])
    assert fit.layout.terms.count > 2
    assert np.abs(map_error_um(fit.camera(ANY), wide)).max() < 0.6


def test_claimed_doubt_is_the_real_doubt():
    """Scale and rotation over 40 grids with errors of 0.02 px: errors over claims spread by 1.

    The true map is fitted to the found one by a stretch per axis and a turn. A spread of 40
    true pulls is 1 +- 0.11, one sigma.
    """
    rows, cols = (g.ravel() for g in np.meshgrid(np.linspace(0, 479, 9), np.linspace(0, 639, 9)))
    true = np.array(CAMERA.to_web(rows, cols)).T
    design = np.column_stack([np.ones(len(true)), true])
    pulls = []
    for seed in range(40):
        fit = found_in([seen_grid(CAMERA, Laid(lines=9, numbers=11), 0.02, seed)])
        camera = fit.camera(ANY)
        doubt = calibration_doubt(fit, camera)
        off = np.array(camera.to_web(rows, cols)).T - true
        gains = np.linalg.lstsq(design, off, rcond=None)[0][1:]
        pulls.append(
            (
                1e6 * gains[0, 0] / doubt.circumferential_scale_ppm,
                1e6 * gains[1, 1] / doubt.lateral_scale_ppm,
                np.degrees(gains[0, 1]) / doubt.rotation_deg,
            )
        )
    spread = np.std(pulls, axis=0)
    assert ((spread[:2] > 0.75) & (spread[:2] < 1.25)).all()
    assert 0.6 < spread[2] < 1.25  # the larger of two turns is claimed
    assert np.abs(np.mean(pulls, axis=0)).max() < 0.4


def test_bending_that_no_lens_has_is_in_the_residual_doubt():
    """A wave of 0.05 px over the grid, beside errors of 0.01 px: neighbours have it in common."""
    grid = seen_grid(CAMERA, Laid(), 0.01, 5)
    wave = 0.05 * np.sqrt(2.0) * np.sin(grid.places[:, 1] / 25.0)
    fit = found_in([replace(grid, places=grid.places + np.stack([wave, 0.0 * wave], axis=1))])
    claimed = smooth_px(fit.nodes, fit.residuals, fit.used)
    # Half the axes' mean square of 0.05^2; a wave of 157 px is well seen at a pitch of 41 px,
    # but neighbours along it are alike by cos(41 / 25) only.
    assert 0.015 < claimed < 0.05
    clean = found_in([grid])
    assert smooth_px(clean.nodes, clean.residuals, clean.used) < 0.004


@pytest.mark.parametrize(("channel", "true"), [("red", LENS.red), ("blue", LENS.blue)])
def test_lateral_colour_is_found_and_left_at_the_noise(channel, true):
    grids = [seen_grid(CAMERA, Laid(5.0 * k), 0.01, k) for k in range(2)]
    found = fit_colour(LENS, grids, [getattr(g, channel) for g in grids])
    rows, cols = np.array([0.0, 240.0, 479.0, 0.0]), np.array([0.0, 320.0, 639.0, 639.0])
    got, expected = LENS.colour_shift(found.colour, rows, cols), LENS.colour_shift(true, rows, cols)
    assert np.abs(np.array(got) - np.array(expected)).max() < 0.01
    assert found.sd_px < 0.003
    left = np.concatenate(found.residuals)
    assert np.sqrt((left**2).mean()) == pytest.approx(0.01 * np.sqrt(2.0), rel=0.1)


def test_a_cubic_colour_term_only_where_it_pays():
    even = replace(LENS, red=replace(LENS.red, cubic_px=0.0))
    grids = [seen_grid(replace(CAMERA, lens=even), Laid(), 0.01, 1)]
    assert fit_colour(LENS, grids, [g.red for g in grids]).colour.cubic_px == 0.0


def test_middles_of_dots_are_the_closed_form():
    """A disc of r px under a radial bending of b px at R: its picture's middle lies inward of
    the picture of its middle by 3/8 r^2 x 8 b d / R^3 at a distance d."""
    lens = Lens(*SIZE, (240.0, 320.0), radial_px=(4.0,))
    place = np.array([[240.0, 320.0 + 200.0]])
    straight = np.stack(lens.straight(place[:, 0], place[:, 1]), axis=1)
    (shift,) = middle_shifts(lens, straight, (10.0, 10.0))
    expected = 3.0 / 8.0 * 100.0 * 8.0 * 4.0 * 200.0 / lens.radius_px**3
    assert shift == pytest.approx((0.0, -expected), abs=0.05 * expected)


def test_a_check_frame_shows_another_scale():
    camera = found_in([seen_grid(CAMERA, Laid(), 0.01, 1)]).camera(ANY)
    nearer = replace(CAMERA, row_mm_per_px=0.012 / 1.001, col_mm_per_px=0.0121 / 1.001)
    grid = seen_grid(nearer, Laid(7.0), 0.01, 2)
    _, residuals, used, scale = hold_against(grid, camera, PITCH_MM)
    assert used.mean() > 0.9
    assert scale == pytest.approx((1000.0, 1000.0), abs=30.0)
    _, same, _, unscaled = hold_against(seen_grid(CAMERA, Laid(7.0), 0.01, 3), camera, PITCH_MM)
    assert np.abs(unscaled).max() < 30.0
    assert np.sqrt((same**2).mean()) < 0.013 < np.sqrt((residuals**2).mean())
