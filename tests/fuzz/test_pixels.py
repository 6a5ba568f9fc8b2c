"""Whatever the pixels are: every mark of the design gets a row that keeps the table's rules."""

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regscan.camera.read import read_camera
from regscan.job.read import read_job
from regscan.marks.finder import MarkFinder
from regscan.offsets.measure import measure_offsets
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.picture import read_picture
from tests.faults.tiny import COLS, INKS, ROWS

relaxed = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture(scope="module")
def drawn(tiny_run):
    return read_picture(tiny_run / "000000.png")


@pytest.fixture(scope="module")
def press(tiny_run):
    return read_job(tiny_run / "job.toml"), read_camera(tiny_run / "camera.toml")


@st.composite
def any_pixels(draw):
    """Noise, flats and ramps of any size, 8 and 16 bit, mono and colour."""
    rows, cols = draw(st.integers(1, ROWS)), draw(st.integers(1, COLS))
    shape = (rows, cols, 3) if draw(st.booleans()) else (rows, cols)
    dtype = draw(st.sampled_from([np.uint8, np.uint16]))
    top = np.iinfo(dtype).max
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    kind = draw(st.sampled_from(["noise", "flat", "ramp", "checks", "grains"]))
    if kind == "noise":
        return rng.integers(0, top, shape, dtype, endpoint=True)
    if kind == "flat":
        return np.full(shape, draw(st.integers(0, top)), dtype)
    if kind == "ramp":
        ramp = np.linspace(0, top, rows * cols).reshape(rows, cols)
        return np.broadcast_to(ramp[..., None] if len(shape) == 3 else ramp, shape).astype(dtype)
    if kind == "checks":
        period = draw(st.integers(1, 40))
        checks = (np.indices((rows, cols)) // period).sum(axis=0) % 2 * top
        return np.broadcast_to(checks[..., None] if len(shape) == 3 else checks, shape).astype(
            dtype
        )
    return np.where(rng.random(shape) < 0.02, 0, top).astype(dtype)


def check(pixels, press):
    """Every mark has a row; a missing one no numbers, any other one finite ones."""
    job, camera = press
    marks = MarkFinder(job, camera).measure(Frame(FrameInfo("fuzz.png", 0), pixels))
    offsets = measure_offsets(marks, job, camera)
    assert sorted(mark.ink for mark in marks) == sorted(INKS)
    assert sorted(one.ink for one in offsets) == sorted(INKS)
    for mark in marks:
        numbers = (mark.row_px, mark.col_px, mark.row_var, mark.col_var)
        if mark.status == "missing":
            assert math.isnan(mark.row_px)
        else:
            assert all(map(math.isfinite, numbers))
            assert -1 <= mark.row_px <= pixels.shape[0]
            assert -1 <= mark.col_px <= pixels.shape[1]
            assert min(mark.row_var, mark.col_var) > 0
    for one in offsets:
        values = (one.circumferential_mm, one.lateral_mm)
        doubts = (one.circumferential_sd_mm, one.lateral_sd_mm)
        if one.status == "missing":
            assert all(map(math.isnan, (*values, *doubts)))
        else:
            assert all(map(math.isfinite, (*values, *doubts)))
    return marks


@relaxed
@given(any_pixels())
def test_any_pixels(press, pixels):
    marks = check(pixels, press)
    if pixels.min() == pixels.max():
        assert all(mark.status == "missing" for mark in marks)


@pytest.mark.parametrize("rows", [8, 9])
def test_a_picture_of_one_colour_smaller_than_a_mark_shows_none(press, rows):
    """Marks that seem to touch there were taken to have the colours that they should have."""
    marks = check(np.full((rows, 25), 3, np.uint16), press)
    assert all(mark.status == "missing" for mark in marks)


@relaxed
@given(st.data())
def test_a_true_frame_with_parts_of_it_spoilt(press, drawn, data):
    pixels = drawn.copy()
    for _ in range(data.draw(st.integers(1, 4))):
        row, col = data.draw(st.integers(0, ROWS - 1)), data.draw(st.integers(0, COLS - 1))
        part = pixels[
            row : row + data.draw(st.integers(1, 60)), col : col + data.draw(st.integers(1, 60))
        ]
        how = data.draw(st.sampled_from(["black", "white", "swap", "shift", "noise"]))
        if how in ("black", "white"):
            part[...] = 0 if how == "black" else 255
        elif how == "swap":
            part[...] = part[..., ::-1].copy()
        elif how == "shift":
            part[...] = np.roll(part, 3, axis=0)
        else:
            seed = data.draw(st.integers(0, 2**32 - 1))
            part[...] = np.random.default_rng(seed).integers(0, 256, part.shape)
    check(pixels, press)
