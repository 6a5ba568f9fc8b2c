"""The upper part of a picture is the same to the last bit as that of the whole."""

import struct
import zlib
from functools import cache

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from regscan.errors import BadFrames
from regscan.recording import jpeg, png
from regscan.recording.picture import read_picture, read_upper
from tests.recording.pictures import write

SIZE = 301, 203
SAMPLINGS = ("411", "420", "422", "440", "444")


@cache
def noisy(channels=3, dtype=np.uint8):
    """Coloured blots with noise, as much to decode in each row."""
    rng = np.random.default_rng(8)
    blots = cv2.GaussianBlur(rng.uniform(0.0, 1.0, (*SIZE, channels)), None, 4.0)
    blots = blots.reshape(*SIZE, channels)
    share = np.clip(3.0 * (blots - 0.5) + 0.5 + rng.normal(0.0, 0.02, (*SIZE, channels)), 0.0, 1.0)
    return (share * np.iinfo(dtype).max).reshape(*SIZE, -1).squeeze().astype(dtype)


def jpegs(folder):
    """JPEGs of all samplings of colour, in one pass and in several, with restarts, grey."""
    options = {
        f"{name}-{kind}": [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, factor, *more]
        for name in SAMPLINGS
        for factor in [getattr(cv2, f"IMWRITE_JPEG_SAMPLING_FACTOR_{name}")]
        for kind, more in (
            ("plain", []),
            ("progressive", [cv2.IMWRITE_JPEG_PROGRESSIVE, 1]),
            ("restarts", [cv2.IMWRITE_JPEG_RST_INTERVAL, 5]),
        )
    }
    for name, asked in options.items():
        cv2.imwrite(str(folder / f"{name}.jpg"), noisy(), asked)
    Image.fromarray(noisy(1)).save(folder / "grey.jpg")
    thumbnail = b"\xff\xe1" + struct.pack(">H", 2 + 6) + b"\xff\xc0abcd"  # no frame header
    data = (folder / "420-plain.jpg").read_bytes()
    (folder / "with-segment.jpg").write_bytes(data[:2] + thumbnail + data[2:])


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One file of every kind that is decoded in part."""
    place = tmp_path_factory.mktemp("upper")
    jpegs(place)
    write(place, "rgb.png", noisy())
    write(place, "grey.png", noisy(1))
    write(place, "plain.bmp", noisy())
    return place


@given(data=st.data(), first=st.integers(0, 120), more=st.integers(1, 150))
def test_the_rows_wanted_are_those_of_the_whole(folder, data, first, more):
    path = data.draw(st.sampled_from(sorted(folder.iterdir())))
    whole, (upper, rows) = read_picture(path), read_upper(path, slice(first, first + more))
    assert rows == len(whole)
    assert upper.dtype == whole.dtype
    assert np.array_equal(upper[first : first + more], whole[first : first + more])


def test_no_more_is_decoded_than_is_wanted_and_nothing_is_said_of_it(folder, capfd):
    for path in sorted(folder.iterdir()):
        upper, rows = read_upper(path, slice(10, 150))
        assert (len(upper), rows) == (150, SIZE[0]), path.name
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    "name", ["a.tif", "a.webp", "deep.png", "deep_grey.png", "mode.png", "laced.png"]
)
def test_other_kinds_are_read_whole(tmp_path, name):
    deep = {"deep.png": noisy(3, np.uint16), "deep_grey.png": noisy(1, np.uint16)}
    pixels = deep.get(name, noisy())
    write(tmp_path, name, pixels)
    if name == "mode.png":
        Image.fromarray(pixels).convert("P").save(tmp_path / name)
    if name == "laced.png":
        (tmp_path / name).write_bytes(laced(pixels))
    upper, rows = read_upper(tmp_path / name, slice(0, 100))
    assert (len(upper), rows) == (SIZE[0], SIZE[0])
    assert np.array_equal(upper, read_picture(tmp_path / name))
    if name != "mode.png":
        assert np.array_equal(upper, pixels)


def laced(pixels):
    """A PNG whose rows come in seven passes (PNG specification, 8.2: Adam7), unfiltered."""
    passes = [(0, 0, 8, 8), (0, 4, 8, 8), (4, 0, 8, 4), (0, 2, 4, 4)]
    passes += [(2, 0, 4, 2), (0, 1, 2, 2), (1, 0, 2, 1)]
    lines = b"".join(
        b"\0" + row.tobytes()
        for top, left, down, right in passes
        for row in pixels[top::down, left::right]
    )
    header = struct.pack(">IIBBBBB", pixels.shape[1], pixels.shape[0], 8, 2, 0, 0, 1)
    chunks = [(b"IHDR", header), (b"IDAT", zlib.compress(lines)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in chunks
    )


@pytest.mark.parametrize("name", ["rgb.png", "420-plain.jpg", "plain.bmp"])
def test_all_rows_may_be_wanted_and_more(folder, name):
    upper, rows = read_upper(folder / name, slice(0, 10_000))
    assert rows == SIZE[0]
    assert np.array_equal(upper, read_picture(folder / name))


def test_without_the_extra_all_is_decoded(folder, monkeypatch):
    for one in (png, jpeg):
        monkeypatch.setattr(one, "fast_decoders", lambda: False)
    for name in ("rgb.png", "420-plain.jpg"):
        upper, _ = read_upper(folder / name, slice(0, 100))
        assert np.array_equal(upper, read_picture(folder / name))


def test_damage_above_is_told_and_damage_below_is_not_looked_for(folder, tmp_path):
    good = (folder / "rgb.png").read_bytes()
    for share, told in ((0.2, True), (0.9, False)):
        at = int(share * len(good))
        path = tmp_path / f"{share}.png"
        path.write_bytes(good[:at] + bytes(64) + good[at + 64 :])
        with pytest.raises(BadFrames):
            read_picture(path)
        if told:
            with pytest.raises(BadFrames, match="damaged"):
                read_upper(path, slice(0, 150))
        else:
            upper, _ = read_upper(path, slice(0, 150))
            assert np.array_equal(upper, noisy()[:150])


@pytest.mark.parametrize("name", ["rgb.png", "420-plain.jpg", "plain.bmp"])
def test_a_file_that_stops_short_is_refused_wherever_the_marks_are(folder, tmp_path, name):
    data = (folder / name).read_bytes()
    path = tmp_path / name
    path.write_bytes(data[: int(0.9 * len(data))])
    with pytest.raises(BadFrames, match="cut off"):
        read_upper(path, slice(0, 50))


@given(data=st.binary(max_size=60), at=st.floats(0.0, 1.0), length=st.integers(0, 60))
def test_a_spoilt_header_never_gives_another_size(folder, data, at, length):
    """Whatever a JPEG's bytes say: the rows wanted, as wide as its header claims, or nothing."""
    good = (folder / "420-plain.jpg").read_bytes()[:3000]
    start = int(at * 700)
    spoilt = good[:start] + data + good[start + length :] + b"\xff\xd9"
    upper = jpeg.fast_jpeg(spoilt, "RGB", SIZE, 100)
    assert upper is None or upper.shape == (100, SIZE[1], 3)
