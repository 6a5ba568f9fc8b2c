"""Uncompressed BMP, read as its bytes lie there, beside two libraries that write and read it."""

import struct

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from regscan.recording.bmp import plain_bmp
from regscan.recording.picture import read_picture


def pixels_of(rows, cols):
    return np.random.default_rng(rows * 100 + cols).integers(0, 256, (rows, cols, 3), np.uint8)


def by_opencv(pixels):
    return cv2.imencode(".bmp", pixels[..., ::-1])[1].tobytes()


@given(st.integers(1, 9), st.integers(1, 19))
def test_rows_of_any_length_are_read(rows, cols):
    """They are filled up to whole words of four bytes."""
    pixels = pixels_of(rows, cols)
    read = plain_bmp(by_opencv(pixels), (rows, cols))
    assert np.array_equal(read, pixels)
    assert read.flags.c_contiguous


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L", "P", "1"])
def test_what_another_library_writes_is_read_as_it_reads_it(tmp_path, mode):
    image = Image.fromarray(pixels_of(12, 17)).convert(mode)
    image.save(tmp_path / "a.bmp")
    same = Image.open(tmp_path / "a.bmp").convert("L" if mode in ("L", "1") else "RGB")
    assert np.array_equal(read_picture(tmp_path / "a.bmp"), np.asarray(same))


def test_a_bmp_that_begins_with_its_first_row_is_left_to_the_decoder(tmp_path):
    pixels = pixels_of(10, 8)  # of 24 bytes a row: none to fill up
    head = bytearray(by_opencv(pixels)[:54])
    struct.pack_into("<i", head, 22, -10)
    data = bytes(head) + pixels[..., ::-1].tobytes()
    assert plain_bmp(data, (10, 8)) is None
    (tmp_path / "a.bmp").write_bytes(data)
    assert np.array_equal(read_picture(tmp_path / "a.bmp"), pixels)


@pytest.mark.parametrize(
    ("at", "form", "value"),
    [
        (0, "<H", 0),
        (14, "<I", 12),
        (18, "<i", 9),
        (28, "<H", 32),
        (30, "<I", 1),
        (10, "<I", 400),
        (10, "<I", 20),
    ],
    ids=["no BMP", "old header", "other width", "32 bits", "compressed", "cut off", "headless"],
)
def test_nothing_else_is_taken_for_it(at, form, value):
    data = bytearray(by_opencv(pixels_of(10, 8)))
    assert plain_bmp(bytes(data), (10, 8)) is not None
    struct.pack_into(form, data, at, value)
    assert plain_bmp(bytes(data), (10, 8)) is None
    assert plain_bmp(bytes(data)[:20], (10, 8)) is None
