"""PNG by the decoder that is fastest for it, where it is installed (the extra `fast`), whole or
no further down than its rows are wanted."""

import struct
import zlib

import numpy as np

from regscan.recording.fast import decoded_by, fast_decoders

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PLAIN = ("RGB", "L", "I;16")  # Pillow's names; palettes, alpha and the like are left to OpenCV
# Where the header's fields lie in the file (PNG specification, W3C, 11.2.2 IHDR).
_NAME, _HEIGHT, _INTERLACE, _CHECK, _END = 12, 20, 28, 29, 33


def fast_png(
    data: bytes, mode: str, size: tuple[int, int], rows: int | None = None
) -> np.ndarray | None:
    """H x W x 3 (R, G, B) or H x W, the same values as OpenCV's decoder gives.

    mode   Pillow's name of what the file holds.   size   rows and columns its header names.
    rows   how many are wanted, from the top; None: all.
    None where it is no plain PNG, is not whole, or imagecodecs is not installed; where only some
    rows are wanted also where it has no more, they do not follow each other, or a code has 16 bits.
    """
    if mode not in _PLAIN or not data.startswith(_SIGNATURE) or not fast_decoders():
        return None
    from imagecodecs import png_decode, spng_decode

    if rows is None:
        return decoded_by(png_decode, data, mode, size)
    follow = len(data) > _END and data[_NAME : _NAME + 4] == b"IHDR" and data[_INTERLACE] == 0
    if rows >= size[0] or not follow:
        return None
    # The file is made to end there. This decoder says nothing of the data that is then left over.
    header = data[_NAME:_HEIGHT] + struct.pack(">I", rows) + data[_HEIGHT + 4 : _CHECK]
    short = data[:_NAME] + header + struct.pack(">I", zlib.crc32(header)) + data[_END:]
    return decoded_by(spng_decode, short, mode, (rows, size[1]))
