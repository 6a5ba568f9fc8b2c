"""Small files that claim huge pictures, made by hand from the published forms of each kind."""

import struct
import zlib
from pathlib import Path

import cv2
import numpy as np

SIDE = 40_000
WEBP_SIDE = 16_383  # WebP cannot say more
VIDEO_SIDE = 16_000  # the video library refuses more by itself


def png(side: int = SIDE) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def bmp(side: int = SIDE) -> bytes:
    """A run-length coded one of 8 bits, whose rows may be left out."""
    pixels = b"\0\1"  # end of the picture
    head = struct.pack("<IiiHHIIiiII", 40, side, side, 1, 8, 1, len(pixels), 0, 0, 256, 0)
    palette = b"".join(bytes([k, k, k, 0]) for k in range(256))
    start = 14 + len(head) + len(palette)
    return struct.pack("<2sIHHI", b"BM", start + len(pixels), 0, 0, start) + head + palette + pixels


def tiff(side: int = SIDE, pages: int = 1) -> bytes:
    """Deflate-coded, one strip with all rows, of which it holds a few bytes."""
    strip = zlib.compress(b"\0" * 1000)
    data = struct.pack("<2sHI", b"II", 42, 8 + len(strip) + len(strip) % 2)
    data += strip + b"\0" * (len(strip) % 2)
    for page in range(pages):
        tags = [
            *((256, 4, side), (257, 4, side), (258, 3, 8), (259, 3, 8), (262, 3, 1)),
            *((273, 4, 8), (277, 3, 1), (278, 4, side), (279, 4, len(strip))),
        ]
        data += struct.pack("<H", len(tags))
        for tag, kind, value in tags:
            data += struct.pack("<HHII", tag, kind, 1, value)
        more = len(data) + 4 if page + 1 < pages else 0
        data += struct.pack("<I", more)
    return data


def jpeg(side: int = SIDE) -> bytes:
    """A true small one whose frame header is written over."""
    done, data = cv2.imencode(".jpg", np.full((16, 16, 3), 90, np.uint8))
    assert done
    small = bytearray(data.tobytes())
    at = small.index(b"\xff\xc0")
    small[at + 5 : at + 9] = struct.pack(">HH", side, side)
    return bytes(small)


def webp(side: int = WEBP_SIDE) -> bytes:
    """A true small lossless one whose 14-bit sides are written over."""
    done, data = cv2.imencode(
        ".webp", np.full((16, 16, 3), 90, np.uint8), [cv2.IMWRITE_WEBP_QUALITY, 101]
    )
    assert done
    small = bytearray(data.tobytes())
    at = small.index(b"VP8L") + 9
    bits = int.from_bytes(small[at : at + 4], "little") >> 28 << 28
    small[at : at + 4] = (bits | (side - 1) << 14 | (side - 1)).to_bytes(4, "little")
    return bytes(small)


def avi(path: Path, side: int = VIDEO_SIDE) -> None:
    """A true small video whose sides are written over wherever its headers state them."""
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 10, (64, 48))
    assert writer.isOpened()
    for grey in (40, 80):
        writer.write(np.full((48, 64, 3), grey, np.uint8))
    writer.release()
    small, true = path.read_bytes(), struct.pack("<II", 64, 48)
    assert true in small
    small = small.replace(true, struct.pack("<II", side, side))
    head = b"\xff\xc0\0\x11\x08"  # of each picture
    small = small.replace(head + struct.pack(">HH", 48, 64), head + struct.pack(">HH", side, side))
    path.write_bytes(small)


PICTURES = {
    "bomb.png": png,
    "bomb.bmp": bmp,
    "bomb.tif": tiff,
    "bomb.jpg": jpeg,
    "bomb.webp": webp,
    "pages.tif": lambda: tiff(pages=2),
}
