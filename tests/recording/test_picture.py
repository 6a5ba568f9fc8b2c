"""Pixels come out as they went in; what is not a whole picture is refused."""

import struct
import zlib

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from regscan.errors import BadFrames
from regscan.recording import png
from regscan.recording.picture import LARGEST_PIXELS, page_count, read_picture
from tests.recording.pictures import COLS, ROWS, encoded, red_over_blue, write

LOSSLESS = ["a.png", "a.tif", "a.tiff", "a.bmp", "a.webp", "A.PNG"]


def why(path, page=None):
    with pytest.raises(BadFrames) as caught:
        read_picture(path, page)
    (problem,) = caught.value.problems
    assert problem.cure
    assert caught.value.path == str(path)
    return problem.what


@pytest.fixture(params=["extra fast", "without it"])
def decoder(request, monkeypatch):
    """Both ways a PNG may be decoded."""
    if request.param == "without it":
        monkeypatch.setattr(png, "fast_decoders", lambda: False)


def test_both_decoders_give_the_same_picture(tmp_path, monkeypatch):
    """Of every kind of PNG that Pillow writes, and of one of 16 bits a channel."""
    rng = np.random.default_rng(4)
    noise = rng.integers(0, 256, (37, 53, 4), np.uint8)
    colour = Image.fromarray(noise[..., :3])
    kinds = {
        "rgb": colour,
        "grey": colour.convert("L"),
        "alpha": Image.fromarray(noise),
        "grey-alpha": Image.fromarray(noise[..., :2], "LA"),
        "palette": colour.convert("P", palette=Image.Palette.ADAPTIVE),
        "bits": colour.convert("1"),
        "deep": Image.fromarray(rng.integers(0, 65536, (37, 53)).astype(np.uint16)),
        "transparent": colour,
    }
    for name, picture in kinds.items():
        more = {"transparency": (1, 2, 3)} if name == "transparent" else {}
        picture.save(tmp_path / f"{name}.png", **more)
    write(tmp_path, "deep-rgb.png", rng.integers(0, 65536, (37, 53, 3)).astype(np.uint16))
    paths = sorted(tmp_path.glob("*.png"))
    taken = [png.fast_png(path.read_bytes(), "RGB", (37, 53)) is not None for path in paths]
    assert any(taken)  # the extra is installed where tests run
    fast = [read_picture(path) for path in paths]
    monkeypatch.setattr(png, "fast_decoders", lambda: False)
    for path, pixels in zip(paths, fast, strict=True):
        slow = read_picture(path)
        assert (pixels.dtype, pixels.shape) == (slow.dtype, slow.shape), path.name
        assert np.array_equal(pixels, slow), path.name


@pytest.mark.usefixtures("decoder")
@pytest.mark.parametrize("name", LOSSLESS)
def test_colour_comes_as_red_green_blue(tmp_path, name):
    pixels = read_picture(write(tmp_path, name))
    assert pixels.dtype == np.uint8
    assert np.array_equal(pixels, red_over_blue())


@pytest.mark.usefixtures("decoder")
@pytest.mark.parametrize("name", LOSSLESS[:-2])
def test_mono_comes_as_one_plane(tmp_path, name):
    mono = red_over_blue()[..., 0]
    assert np.array_equal(read_picture(write(tmp_path, name, mono)), mono)


@pytest.mark.usefixtures("decoder")
@pytest.mark.parametrize("name", ["a.png", "a.tif"])
def test_16_bit_stays_16_bit(tmp_path, name):
    colour = red_over_blue(np.uint16)
    pixels = read_picture(write(tmp_path, name, colour))
    assert pixels.dtype == np.uint16
    assert np.array_equal(pixels, colour)
    mono = read_picture(write(tmp_path, name, colour[..., 0]))
    assert np.array_equal(mono, colour[..., 0])


def test_jpeg_is_close(tmp_path):
    pixels = read_picture(write(tmp_path, "a.jpg"))
    assert pixels.shape == (ROWS, COLS, 3)
    assert np.abs(pixels[2] - red_over_blue()[2].astype(float)).mean() < 12


def test_a_jpeg_is_the_same_in_whichever_order_its_channels_come(tmp_path, monkeypatch):
    path = write(tmp_path, "a.jpg")
    pixels = read_picture(path)
    assert np.array_equal(pixels, cv2.imread(str(path))[..., ::-1])
    monkeypatch.delattr(cv2, "IMREAD_COLOR_RGB", raising=False)  # as in versions before 4.11
    assert np.array_equal(read_picture(path), pixels)


@pytest.mark.usefixtures("decoder")
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_alpha_is_left_out(tmp_path, dtype):
    colour = red_over_blue(dtype)
    with_alpha = np.dstack([colour, np.full((ROWS, COLS), 7, dtype)])
    assert np.array_equal(read_picture(write(tmp_path, "a.png", with_alpha)), colour)


@pytest.mark.usefixtures("decoder")
def test_mono_with_alpha_stays_mono(tmp_path):
    mono = red_over_blue()[..., 0]
    Image.merge("LA", [Image.fromarray(mono)] * 2).save(tmp_path / "a.png")
    assert np.array_equal(read_picture(tmp_path / "a.png"), mono)


def test_a_turn_noted_in_the_file_is_not_applied(tmp_path):
    image = Image.fromarray(red_over_blue())
    exif = image.getexif()
    exif[274] = 6  # "show it turned by 90 degrees"
    image.save(tmp_path / "a.jpg", exif=exif, quality=95)
    assert read_picture(tmp_path / "a.jpg").shape == (ROWS, COLS, 3)


def test_names_in_any_language(tmp_path):
    path = write(tmp_path, "Würfel 標 ñ.png")
    assert np.array_equal(read_picture(path), red_over_blue())


@pytest.mark.usefixtures("decoder")
@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.tif", "a.bmp", "a.webp"])
def test_a_picture_that_is_cut_off_is_never_half_read(tmp_path, name):
    noise = np.random.default_rng(1).integers(0, 255, (ROWS, COLS, 3), np.uint8)
    data = encoded(name, noise)
    path = tmp_path / name
    for length in [1, 5, 20, *range(40, len(data) - 1, max(1, len(data) // 60)), len(data) - 1]:
        path.write_bytes(data[:length])
        assert why(path)


def test_a_jpeg_cut_off_after_its_thumbnail_is_broken(tmp_path):
    whole = encoded("a.jpg", red_over_blue())
    thumbnail = encoded("a.jpg", red_over_blue()[::2, ::2])
    block = b"\xff\xe1" + struct.pack(">H", len(thumbnail) + 2) + thumbnail
    with_thumbnail = whole[:2] + block + whole[2:]
    (tmp_path / "a.jpg").write_bytes(with_thumbnail)
    assert read_picture(tmp_path / "a.jpg").shape == (ROWS, COLS, 3)
    (tmp_path / "a.jpg").write_bytes(with_thumbnail[:-40])
    assert "cut off" in why(tmp_path / "a.jpg")


def test_padding_after_the_end_does_no_harm(tmp_path):
    for name in ("a.png", "a.jpg"):
        (tmp_path / name).write_bytes(encoded(name, red_over_blue()) + b"\0" * 100)
        assert read_picture(tmp_path / name).shape == (ROWS, COLS, 3)


def test_zero_bytes_text_and_missing(tmp_path):
    (tmp_path / "a.png").write_bytes(b"")
    assert why(tmp_path / "a.png") == "is empty (zero bytes)"
    (tmp_path / "a.png").write_text("not a picture at all")
    assert why(tmp_path / "a.png") == "is not an image that can be read"
    assert why(tmp_path / "b.png") == "there is no such file"
    assert why(tmp_path / "b\0.png").startswith("cannot be read")
    (tmp_path / "c.png").mkdir()
    assert why(tmp_path / "c.png").startswith("cannot be read")


@pytest.mark.usefixtures("decoder")
def test_a_damaged_png_is_refused(tmp_path):
    data = bytearray(encoded("a.png", red_over_blue()))
    for k in range(60, 80):
        data[k] ^= 0x55
    (tmp_path / "a.png").write_bytes(data)
    assert "damaged" in why(tmp_path / "a.png")


def test_kinds_that_are_not_read(tmp_path):
    Image.new("CMYK", (40, 30)).save(tmp_path / "a.jpg")
    assert "CMYK" in why(tmp_path / "a.jpg")
    cv2.imwrite(str(tmp_path / "a.tif"), np.zeros((30, 40), np.float32))
    assert why(tmp_path / "a.tif")


def png_claiming(rows, cols):
    """A well-formed PNG header for a huge image, in under a hundred bytes."""

    def chunk(kind, body):
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", cols, rows, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 100)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("side", [10_001, 14_000, 40_000])
def test_an_image_bomb_is_refused_before_memory_is_taken(tmp_path, side, monkeypatch):
    assert side**2 > LARGEST_PIXELS
    path = tmp_path / "bomb.png"
    path.write_bytes(png_claiming(side, side))
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("it was decoded"))
    assert "pixels" in why(path)


def test_pages_are_read_one_by_one(tmp_path):
    path = tmp_path / "pages.tif"
    pages = [red_over_blue(np.uint16) // k for k in (1, 2, 3)]
    cv2.imwritemulti(str(path), [cv2.cvtColor(page, cv2.COLOR_RGB2BGR) for page in pages])
    assert page_count(path) == 3
    for number, page in enumerate(pages):
        assert np.array_equal(read_picture(path, number), page)
    assert "holds 3 pictures" in why(path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    assert why(path, 2)


def test_an_animation_is_not_one_frame(tmp_path):
    first, second = Image.new("RGB", (40, 30)), Image.new("RGB", (40, 30), "white")
    first.save(tmp_path / "a.webp", save_all=True, append_images=[second])
    assert "holds 2 pictures" in why(tmp_path / "a.webp")


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.tif", "a.bmp", "a.webp"])
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_damage_gives_a_picture_or_a_refusal(tmp_path_factory, name, data):
    whole = bytearray(encoded(name, red_over_blue()))
    where = st.integers(0, len(whole) - 1)
    for k in data.draw(st.lists(where, min_size=1, max_size=5)):
        whole[k] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.mktemp("damage") / name
    path.write_bytes(whole[: data.draw(where)] if data.draw(st.booleans()) else whole)
    try:
        pixels = read_picture(path)
    except BadFrames as bad:
        assert_one(bad.problems)
    else:
        assert pixels.ndim in (2, 3)
        assert pixels.size <= 3 * LARGEST_PIXELS


def assert_one(problems):
    assert len(problems) == 1
