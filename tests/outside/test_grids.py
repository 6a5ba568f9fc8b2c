"""Calibration on grids nobody here drew: photographs, and pages drawn by Ghostscript."""

import cv2
import numpy as np
import pytest

from outside import ghostscript
from outside.camera import Optics, frame_of
from outside.needs import ghostscript_drawn
from outside.page import Lie, Page, Printed
from outside.photographs import (
    CHESSBOARDS,
    DOTS,
    needs_chessboards,
    needs_dots,
    opencv_corners,
    opencv_rms,
    pictures,
)
from outside.plates import PX_MM
from regscan.camera.camera import Camera
from regscan.instrument.calibrate import Views, calibrate
from regscan.instrument.grid.fit import fit_grids
from regscan.instrument.grid.look import look_at
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.plate import Plate
from regscan.job.layout import Disc
from regscan.recording.sources import open_recording

ANY = Camera(1.0, 1.0)
BOARD = (9, 6)
FINEST_WINDOW = 5  # OpenCV's refinement reaches its best here: 0.195 and 0.207 px


def fitted(frames, kind):
    grids = [look_at(frame, ANY, kind) for frame in frames]
    assert all(isinstance(grid, SeenGrid) for grid in grids)
    return fit_grids(grids, 1.0, ANY)


@needs_chessboards
@pytest.mark.parametrize("side", ["left", "right"])
def test_photographs_of_a_chessboard_fit_as_well_as_opencv_fits_them(side):
    frames = pictures(CHESSBOARDS, f"{side}[0-9]*.jpg")
    fit = fitted(frames, "chessboard")
    corners = [opencv_corners(frame, BOARD, FINEST_WINDOW) for frame in frames]
    known = [c for c in corners if c is not None]
    board = np.array([(i, j) for j in range(BOARD[1]) for i in range(BOARD[0])], float)
    theirs = opencv_rms([board] * len(known), known, frames[0].pixels.shape)
    # Nearly all of the board's inner corners must be in it: leaving out is no way to fit well.
    assert sum(int(used.sum()) for used in fit.used) > 0.95 * len(frames) * len(board)
    assert fit.rms_px <= theirs
    # And on the very places that ours was fitted to.
    nodes = [n[u] for n, u in zip(fit.nodes, fit.used, strict=True)]
    places = [g.places[u] for g, u in zip(fit.grids, fit.used, strict=True)]
    assert fit.rms_px <= opencv_rms(nodes, places, frames[0].pixels.shape)


@needs_chessboards
def test_corners_lie_where_opencv_sees_them():
    frame = pictures(CHESSBOARDS, "left01.jpg")[0]
    grid = look_at(frame, ANY, "chessboard")
    theirs = opencv_corners(frame, BOARD, FINEST_WINDOW)
    apart = np.linalg.norm(grid.places[:, None] - theirs[None], axis=2).min(axis=0)
    assert np.median(apart) < 0.15
    assert apart.max() < 1.0


@needs_dots
def test_photographs_of_dots_fit_as_well_as_opencv_fits_them():
    frames = pictures(DOTS, "grid36-0*.pgm")
    fit = fitted(frames, "dots")
    assert not fit.layout.one_plane
    assert [len(grid.nodes) for grid in fit.grids] == [36] * 4
    assert sum(int(used.sum()) for used in fit.used) >= 0.97 * 144
    nodes = [n[u] for n, u in zip(fit.nodes, fit.used, strict=True)]
    places = [g.places[u] for g, u in zip(fit.grids, fit.used, strict=True)]
    assert fit.rms_px <= opencv_rms(nodes, places, frames[0].pixels.shape)
    blobs = opencv_rms(*_blobs(fit.grids, frames), frames[0].pixels.shape)
    assert fit.rms_px <= blobs


def _blobs(grids, frames):
    """The same dots placed by OpenCV's blob detector: nodes and places per frame."""
    options = cv2.SimpleBlobDetector_Params()
    options.filterByArea, options.minArea, options.maxArea = True, 300, 6000
    options.filterByConvexity = options.filterByInertia = False
    detector = cv2.SimpleBlobDetector_create(options)
    nodes, places = [], []
    for grid, frame in zip(grids, frames, strict=True):
        found = np.array([p.pt[::-1] for p in detector.detect(frame.pixels)])
        apart = np.linalg.norm(grid.places[:, None] - found[None], axis=2)
        near = apart.min(axis=1) < 3.0
        nodes.append(grid.nodes[near].astype(float))
        places.append(found[apart.argmin(axis=1)][near])
        assert near.sum() >= 34
    return nodes, places


PITCH_MM = 0.4


def page_of_dots(turn_deg):
    """3.6 x 4.8 mm of dots of 0.2 mm, the grid's lines along a web that lies turned on the page."""
    lie = Lie("up", "right", turn_deg)
    printed = []
    for i in range(-7, 8):
        for j in range(-8, 9):
            down, right = lie.on_page(i * PITCH_MM, j * PITCH_MM)
            place = 1.8 + down, 2.4 + right
            if 0.12 < place[0] < 3.48 and 0.12 < place[1] < 4.68:
                printed.append(Printed("black", Disc(0.2), *place))
    return Page(3.6, 4.8, tuple(printed), lie)


def map_off(found, true):
    """2 x 2: how much too long and turned the found camera shows the web, over the whole frame."""
    rows, cols = (g.ravel() for g in np.meshgrid(np.linspace(0, 359, 9), np.linspace(0, 479, 9)))
    web = np.array(true.to_web(rows, cols)).T
    off = np.array(found.to_web(rows, cols)).T - web
    return np.linalg.lstsq(np.column_stack([np.ones(81), web]), off, rcond=None)[0][1:].T


@ghostscript_drawn
@pytest.mark.parametrize("turn_deg", [0.0, 3.0])
def test_a_page_of_dots_by_another_renderer(turn_deg, tmp_path):
    """10 um to the pixel, no lens: the pixel size, the turn, and no bending."""
    cover = ghostscript.draw(page_of_dots(turn_deg)).cover("black")
    light = 0.8 - 0.75 * cover
    frame = frame_of(light, Optics(blur_px=0.9, noise=1.0), seed=1)
    assert cv2.imwrite(str(tmp_path / "page.png"), frame.pixels)
    recording = open_recording([tmp_path / "page.png"])
    views = Views(recording.sources, (), recording.folder)
    found = calibrate(views, Plate(PITCH_MM, dot_mm=0.2), None)
    camera, doubt = found.camera, found.camera.lens.doubt
    assert found.rms_px < 0.03
    off = map_off(camera, Camera(PX_MM, PX_MM, rotation_deg=turn_deg))
    # The page itself is good to 0.005 px (see outside/ghostscript.py), here at its borders.
    page = 0.005 / 180.0
    assert abs(off[0, 0]) < 4e-6 * doubt.circumferential_scale_ppm + page
    assert abs(off[1, 1]) < 4e-6 * doubt.lateral_scale_ppm + page
    turned = np.abs(off[[0, 1], [1, 0]]).max()
    assert turned < 4.0 * np.radians(doubt.rotation_deg) + page
    row, col = np.array([0.0, 0.0, 359.0, 359.0]), np.array([0.0, 479.0, 0.0, 479.0])
    bent = np.array(camera.lens.straight(row, col)) - [row, col]
    assert np.abs(bent).max() < 0.05
