"""The pixels of a picture file: checked for size and completeness, then decoded.

The header is looked at first (Pillow), so that a small file that claims a huge
image is refused before memory is taken. Decoding is OpenCV's, from bytes read
here, since OpenCV does not open every file name on every system; PNG and JPEG have a
faster way where the extra for it is installed, and an uncompressed BMP needs no decoder.
Where marks are followed, what lies below them is not decoded.
"""

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from stat import S_ISDIR, S_ISREG
from typing import Any, cast

import numpy as np

from regscan.errors import BadFrames, Problem
from regscan.recording.bmp import ALL, plain_bmp
from regscan.recording.jpeg import fast_jpeg
from regscan.recording.png import fast_png
from regscan.recording.quiet import quiet_cv2
from regscan.recording.whole import JPEG, missing_end

# A mark camera has 1 to 20 million pixels; decoding this many takes 600 MB at most.
LARGEST_PIXELS = 100_000_000
LARGEST_BYTES = 700_000_000

_MONO_MODES = ("1", "L", "LA", "I", "I;16", "I;16B", "I;16L")
_NO_PICTURE = "save the frames as PNG, TIFF, BMP, WebP or JPEG, 8 or 16 bit"


@dataclass(frozen=True, slots=True)
class Header:
    """What a picture file says of itself before it is decoded."""

    rows: int
    cols: int
    mode: str
    pages: int
    end: int | None  # bytes a TIFF needs to be whole; None for other kinds


def read_picture(path: Path, page: int | None = None) -> np.ndarray:
    """H x W (mono) or H x W x 3 (R, G, B), uint8 or uint16. Raises BadFrames with one problem.

    page   which page of a file with several, from 0; None for a file with one.
    """
    data, header = _opened(path, page)
    return _whole(path, data, header, page)


def read_upper(path: Path, wanted: slice) -> tuple[np.ndarray, int]:
    """The same of a file with one picture down to the last row that is wanted, or further, and
    how many rows the picture has. What lies above the first row wanted may be black.

    Damage below that does not show: whoever finds none above has what there was to find.
    """
    data, header = _opened(path, None)
    upper = _as_wanted(data, header, wanted) if wanted.stop < header.rows else None
    return _whole(path, data, header, None) if upper is None else upper, header.rows


def _whole(path: Path, data: bytes, header: Header, page: int | None) -> np.ndarray:
    if page is None and (plain := _as_wanted(data, header)) is not None:
        return plain
    pixels = _decoded(data) if page is None else _decoded_page(path, page)
    if pixels is None or pixels.shape[:2] != (header.rows, header.cols):
        raise _bad(path, "is damaged and cannot be decoded", "copy it again, or leave it out")
    return _plain(path, pixels, header)


def _opened(path: Path, page: int | None) -> tuple[bytes, Header]:
    """A file's bytes, none of one with pages, and its header, where it seems to be whole."""
    data = _bytes(path) if page is None else b""
    header = _header(path, io.BytesIO(data) if page is None else path, page or 0)
    if header.rows * header.cols > LARGEST_PIXELS:
        raise _bad(
            path,
            f"is {header.cols} x {header.rows} pixels, more than {LARGEST_PIXELS:,} in all",
            "give frames of a mark camera, cut out around the marks if need be",
        )
    if page is None and header.pages > 1:
        raise _bad(path, f"holds {header.pages} pictures", "save each as a file of its own")
    lacking = missing_end(data, header.end) if page is None else _short(path, header)
    if lacking:
        raise _bad(path, lacking, "copy it again, or leave it out")
    return data, header


def page_count(path: Path) -> int:
    """How many pages a picture file holds; 1 when it cannot be told (reading will say why)."""
    try:
        return _header(path, path, 0).pages
    except BadFrames:
        return 1


def _bad(path: Path, what: str, cure: str) -> BadFrames:
    return BadFrames(path, Problem("", what, cure))


def _bytes(path: Path) -> bytes:
    with _reading(path):
        data = path.read_bytes() if _size(path) else b""
    if not data:
        raise _bad(path, "is empty (zero bytes)", "copy it again, or leave it out")
    return data


@contextmanager
def _reading(path: Path) -> Iterator[None]:
    """Turn the system's refusal to read, or a file that is gone, into BadFrames."""
    try:
        yield
    except FileNotFoundError:
        raise _bad(path, "there is no such file", "put it back, or leave it out") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise _bad(path, f"cannot be read ({reason})", "check the permissions") from None


def _size(path: Path) -> int:
    """Bytes of an ordinary file that is not too large; a pipe or a device may have no end."""
    with _reading(path):
        found = path.stat()
    if not (S_ISREG(found.st_mode) or S_ISDIR(found.st_mode)):  # reading a folder says so
        raise _bad(path, "is no ordinary file", "save the frame as a file")
    if found.st_size > LARGEST_BYTES:
        raise _bad(path, "is far too large for one frame", "give frames of a mark camera")
    return found.st_size


def _header(path: Path, source: Any, page: int) -> Header:
    from PIL import Image

    try:
        # A warning about an odd tag is of no use to an operator; the size is checked above.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(source) as image:
                if page:
                    image.seek(page)
                cols, rows = image.size
                # Some cameras put a preview into a JPEG as a second picture: the first counts.
                several = image.format in ("TIFF", "PNG", "WEBP") and not page
                pages = int(getattr(image, "n_frames", 1)) if several else 1
                return Header(rows, cols, image.mode, pages, _tiff_end(image))
    except Image.DecompressionBombError:
        raise _bad(
            path,
            f"claims far more than {LARGEST_PIXELS:,} pixels",
            "give frames of a mark camera, cut out around the marks if need be",
        ) from None
    except Exception:  # a reader fed with arbitrary bytes may raise anything
        raise _bad(path, "is not an image that can be read", _NO_PICTURE) from None


def _short(path: Path, header: Header) -> str:
    """What shows that a file with pages stops before the end of this page."""
    size, needed = _size(path), header.end or 0
    return f"is cut off: {size:,} of {needed:,} bytes are there" if size < needed else ""


def _tiff_end(image: Any) -> int | None:
    """Where the last strip or tile of a TIFF page ends in its file."""
    tags = getattr(image, "tag_v2", None)
    if tags is None:
        return None
    for offsets, counts in ((273, 279), (324, 325)):
        if offsets in tags and counts in tags:
            return max(
                int(start) + int(length)
                for start, length in zip(tags[offsets], tags[counts], strict=True)
            )
    return None


def _as_wanted(data: bytes, header: Header, wanted: slice = ALL) -> np.ndarray | None:
    """The pixels where a decoder gives them just as they are wanted; None where none does, or the
    file cannot be decoded."""
    size = header.rows, header.cols
    for decode in (fast_png, fast_jpeg):
        plain = decode(data, header.mode, size, wanted.stop)
        if plain is not None:
            return plain
    if not data.startswith(JPEG):
        return plain_bmp(data, size, wanted)
    cv2 = quiet_cv2()
    if header.mode != "RGB" or not hasattr(cv2, "IMREAD_COLOR_RGB"):  # OpenCV has it from 4.11 on
        return None
    pixels = _decoded(data, cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION)
    return pixels if pixels is not None and pixels.shape == (*size, 3) else None


def _decoded(data: bytes, flags: int | None = None) -> np.ndarray | None:
    """What OpenCV makes of a file's bytes; without flags as it is, in its own order of channels."""
    cv2 = quiet_cv2()
    try:
        raw = np.frombuffer(data, dtype=np.uint8)
        how = cv2.IMREAD_UNCHANGED if flags is None else flags
        return cast("np.ndarray | None", cv2.imdecode(raw, how))
    except (cv2.error, MemoryError):
        return None


def _decoded_page(path: Path, page: int) -> np.ndarray | None:
    cv2 = quiet_cv2()
    try:
        done, pages = cv2.imreadmulti(str(path), page, 1, flags=cv2.IMREAD_UNCHANGED)
    except (cv2.error, MemoryError):
        return None
    return cast(np.ndarray, pages[0]) if done and len(pages) == 1 else None


def _plain(path: Path, pixels: np.ndarray, header: Header) -> np.ndarray:
    """OpenCV's B, G, R(, alpha) as R, G, B, or as mono where the file is mono."""
    if pixels.dtype not in (np.uint8, np.uint16) or header.mode == "CMYK":
        kind = "CMYK" if header.mode == "CMYK" else f"{pixels.dtype} values"
        raise _bad(path, f"holds {kind}, not 8 or 16 bit grey or RGB", _NO_PICTURE)
    if pixels.ndim == 2:
        return pixels
    channels = pixels.shape[2]
    if channels == 1 or header.mode in _MONO_MODES:
        return np.ascontiguousarray(pixels[:, :, 0])
    if channels not in (3, 4):
        raise _bad(path, f"holds {channels} channels", _NO_PICTURE)
    cv2 = quiet_cv2()
    code = cv2.COLOR_BGR2RGB if channels == 3 else cv2.COLOR_BGRA2RGB
    return cast(np.ndarray, cv2.cvtColor(pixels, code))
