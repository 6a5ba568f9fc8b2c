"""Calibration on drawn grids, held against the camera they were drawn with."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.camera.lens import Lens
from regscan.camera.read import read_camera, write_camera
from regscan.instrument.calibration import rms_length
from regscan.instrument.plate import Plate
from regscan.instrument.residual_picture import residual_svg
from regscan.instrument.residual_table import COLUMNS, residual_csv
from regscan.marks.finder import MarkFinder
from regscan.offsets.measure import measure_offsets
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Look, Sensor, Shot
from regscan.simulator.target import Target
from tests.instrument.drawn_grids import MONO, SMALL, calibrated, draw
from tests.instrument.grid.nodes import CAMERA, LENS, SIZE, map_error_um
from tests.marks.conftest import errors_px, six_colours


def test_the_grids_residual_is_small_and_the_camera_is_the_true_one(calibration):
    assert calibration.rms_px < 0.03
    found = calibration.camera
    assert np.abs(map_error_um(found, CAMERA)).max() < 0.4  # um, 0.03 px
    doubt = found.lens.doubt
    for size, true, ppm in (
        (found.row_mm_per_px, CAMERA.row_mm_per_px, doubt.circumferential_scale_ppm),
        (found.col_mm_per_px, CAMERA.col_mm_per_px, doubt.lateral_scale_ppm),
    ):
        assert abs(size / true - 1.0) < 4e-6 * max(ppm, 1.0)
    assert abs(found.rotation_deg - CAMERA.rotation_deg) < 4.0 * doubt.rotation_deg
    assert not calibration.askew


def test_lateral_colour_at_the_border_is_reduced_below_three_hundredths(calibration):
    rows, cols = np.array([0.0, 0.0, 479.0, 479.0]), np.array([0.0, 639.0, 0.0, 639.0])
    lens = calibration.camera.lens
    for found, true in ((lens.red, LENS.red), (lens.blue, LENS.blue)):
        left = np.array(lens.colour_shift(found, rows, cols)) - LENS.colour_shift(true, rows, cols)
        assert np.hypot(*LENS.colour_shift(true, rows, cols)).max() > 0.9
        assert np.hypot(*left).max() < 0.03
    for frame in calibration.of("fit"):
        assert rms_length(frame.parted(frame.red)) > 0.4
        assert rms_length(frame.parted(frame.red_left)) < 0.03


def test_marks_drawn_through_the_lens_before_and_after(calibration, tmp_path):
    """Marks in all four corners: places and offsets with and without the calibrated camera."""
    job = six_colours()
    plain = Camera(CAMERA.row_mm_per_px, CAMERA.col_mm_per_px, rotation_deg=CAMERA.rotation_deg)
    write_camera(calibration.camera, tmp_path / "camera.toml")
    found = read_camera(tmp_path / "camera.toml")
    look = Look(sensor=Sensor(noise_grey=0.5, bits=16))
    places = {"before": [], "after": []}
    offsets = {"before": [], "after": []}
    for number, origin in enumerate([(45.3, 45.6), (45.8, 270.1), (260.4, 45.2), (260.9, 270.7)]):
        frame, truth = draw_frame(job, CAMERA, {}, look, Shot(*SIZE, number, origin))
        for name, camera in (("before", plain), ("after", found)):
            marks = MarkFinder(job, camera).measure(frame)
            places[name].append(np.abs(errors_px(marks, truth)).max())
            measured = measure_offsets(marks, job, camera)
            offsets[name] += [(o.circumferential_mm, o.lateral_mm) for o in measured]
            if name == "after":
                for o in measured:
                    assert abs(o.circumferential_mm) < 5.0 * o.circumferential_sd_mm + 1e-6
                    assert abs(o.lateral_mm) < 5.0 * o.lateral_sd_mm + 1e-6
    assert max(places["before"]) > 0.4
    assert max(places["after"]) < 0.03
    assert np.abs(offsets["before"]).max() > 0.015  # mm
    assert np.abs(offsets["after"]).max() < 0.0006


def test_a_check_frame_proves_it(calibration):
    (proof,) = calibration.proofs
    assert proof.frame == "check.png"
    assert proof.rms_px < 0.03
    sds = calibration.camera.lens.doubt.circumferential_scale_ppm
    assert np.abs(proof.scale_ppm).max() < 5.0 * sds + 5.0
    (frame,) = calibration.of("check")
    assert rms_length(frame.parted(frame.blue_left)) < 0.03


def test_the_table_of_residuals_holds_every_node(calibration):
    lines = residual_csv(calibration).splitlines()
    assert lines[0] == ",".join(COLUMNS)
    assert len(lines) == 1 + sum(len(f.places) for f in calibration.frames)
    assert {line.split(",")[1] for line in lines[1:]} == {"fit", "check"}
    assert all(len(line.split(",")) == len(COLUMNS) for line in lines)


def test_the_picture_has_four_panels_and_words_beside_colour(calibration):
    svg = residual_svg(calibration)
    assert svg.count("font-weight") == 4
    assert "stroke-dasharray" in svg
    assert "(dashed)" in svg
    assert f"{calibration.rms_px:.4f} px rms" in svg


def test_what_is_not_known_is_noted(calibration):
    notes = " ".join(calibration.notes)
    for words in ("no camera file was given", "along the web's travel", "taken as exact"):
        assert words in notes


def test_what_is_known_goes_into_the_doubt(grid_files):
    plate = Plate(0.5, length_sd_ppm=100.0, turn_sd_deg=0.05)
    found = calibrated([grid_files["first"]], plate, Camera(0.012, 0.012, name="end"))
    doubt = found.camera.lens.doubt
    assert doubt.circumferential_scale_ppm == pytest.approx(100.0, rel=0.01)
    assert doubt.rotation_deg == pytest.approx(0.05, rel=0.01)
    assert found.notes == ()
    assert found.camera.name == "end"


def test_a_grid_that_is_not_squared_leaves_the_rotation_alone(grid_files):
    given = Camera(0.012, 0.012, rotation_deg=0.4)
    found = calibrated([grid_files["second"]], Plate(0.5, squared=False), given).camera
    assert found.rotation_deg == 0.4
    assert found.row_mm_per_px == pytest.approx(0.012, rel=1e-4)


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_mono_frame_of_light_dots_on_dark_partly_out_of_view(turn, tmp_path):
    """Engraved: light on dark; no lateral colour is told where there is one channel."""
    target = Target(0.35, 16, 20, dot_mm=0.17, turn_deg=turn, paper=0.06, ink=0.7, dust=10)
    lens = Lens(*SMALL, (119.5, 159.5), radial_px=(1.5,))
    camera = Camera(0.012, 0.012, lens=lens)
    path = draw(tmp_path, "engraved.png", target, camera=camera, look=MONO, size=SMALL, seed=4)
    found = calibrated([path], Plate(0.35, dot_mm=0.17))
    assert found.rms_px < 0.03
    assert found.camera.row_mm_per_px == pytest.approx(0.012, rel=1e-4)
    assert not found.camera.lens.parts_colours
    assert found.frames[0].red is None
    assert residual_svg(found).count("font-weight") == 2


@pytest.mark.parametrize("mosaic", ["rggb", "gbrg"])
def test_a_raw_mosaic_tells_lateral_colour_too(mosaic, tmp_path):
    lens = Lens(*SMALL, (119.5, 159.5), red=replace(LENS.red, cubic_px=0.0), blue=LENS.blue)
    camera = Camera(0.012, 0.012, mosaic=mosaic, lens=lens)
    target = Target(0.45, 8, 10, dot_mm=0.25)
    path = draw(tmp_path, "raw.png", target, camera=camera, size=SMALL, seed=5)
    found = calibrated([path], Plate(0.45), Camera(0.012, 0.012, mosaic=mosaic)).camera
    rows, cols = np.array([10.0, 10.0, 230.0]), np.array([10.0, 310.0, 160.0])
    off = np.array(found.lens.colour_shift(found.lens.red, rows, cols)) - lens.colour_shift(
        lens.red, rows, cols
    )
    assert np.hypot(*off).max() < 0.06


def test_a_chessboard_of_unknown_size_turned_and_partly_out_of_view(tmp_path):
    board = Target(0.5, 12, 15, "chessboard", turn_deg=9.0)  # the web then seems turned by -9
    path = draw(tmp_path, "board.png", board, seed=6)
    found = calibrated([path], Plate(0.5, "chessboard"))
    assert found.rms_px < 0.03
    assert found.camera.row_mm_per_px == pytest.approx(0.012, rel=1e-4)
    assert np.abs(map_error_um(found.camera, replace(CAMERA, rotation_deg=-7.5))).max() < 1.0


def test_claimed_scale_doubt_is_the_real_spread(tmp_path):
    """From pixels this time: 14 drawn grids with noise, spread of scale over the claim.

    The spread of 14 true pulls is 1 +- 0.19, one sigma.
    """
    target = Target(0.45, 7, 9, dot_mm=0.22, wander_um=0.3)
    camera = Camera(0.012, 0.012, lens=Lens(*SMALL, (119.5, 159.5), radial_px=(1.0,)))
    pulls = []
    for seed in range(14):
        path = draw(
            tmp_path, f"{seed}.png", target, camera=camera, look=MONO, size=SMALL, seed=seed
        )
        found = calibrated([path], Plate(0.45)).camera
        doubt = found.lens.doubt
        rows, cols = (
            g.ravel() for g in np.meshgrid(np.linspace(0, 239, 9), np.linspace(0, 319, 9))
        )
        true = np.array(camera.to_web(rows, cols)).T
        off = np.array(found.to_web(rows, cols)).T - true
        gains = np.linalg.lstsq(np.column_stack([np.ones(81), true]), off, rcond=None)[0][1:]
        pulls.append(1e6 * gains[0, 0] / doubt.circumferential_scale_ppm)
        pulls.append(1e6 * gains[1, 1] / doubt.lateral_scale_ppm)
    assert 0.6 < np.std(pulls) < 1.4
    assert abs(np.mean(pulls)) < 0.8
