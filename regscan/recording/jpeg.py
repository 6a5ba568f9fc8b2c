"""JPEG without the copies that OpenCV makes of it, where imagecodecs is installed (the extra
`fast`), whole or no further down than its rows are wanted.

A JPEG is coded from the top down. Where its header claims fewer rows, a decoder is done as soon
as it has them; imagecodecs says nothing of the data that is then left over, OpenCV would.
"""

import struct

import numpy as np

from regscan.recording.fast import decoded_by, fast_decoders
from regscan.recording.whole import JPEG

# Frame headers of Huffman-coded JPEGs of 8 bits: baseline, extended, progressive (ITU-T T.81, B.1).
_FRAMES = (0xC0, 0xC1, 0xC2)
_NO_LENGTH = (0x01, *range(0xD0, 0xD9))  # markers that stand alone
_MODES = ("RGB", "L")  # Pillow's names; CMYK is refused anyway


def fast_jpeg(
    data: bytes, mode: str, size: tuple[int, int], rows: int | None = None
) -> np.ndarray | None:
    """H x W x 3 (R, G, B) or H x W uint8, the same values as OpenCV's decoder gives.

    mode   Pillow's name of what the file holds.   size   rows and columns its header names.
    rows   how many are wanted at least, from the top; None: all.
    None where it is no JPEG as most are, cannot be decoded, or imagecodecs is not installed.
    """
    at = _frame_header(data) if mode in _MODES and fast_decoders() else None
    if at is None:
        return None
    from imagecodecs import jpeg8_decode

    unit = _unit_rows(data, at)
    # Colour is stored more coarsely: its last row is spread with the help of the next.
    claimed = (rows // unit + 2) * unit if rows is not None and unit else size[0]
    if claimed >= size[0]:
        return decoded_by(jpeg8_decode, data, mode, size)
    short = bytearray(data)
    struct.pack_into(">H", short, at + 5, claimed)
    pixels = decoded_by(jpeg8_decode, bytes(short), mode, (claimed, size[1]))
    return None if pixels is None else pixels[:rows]


def _frame_header(data: bytes) -> int | None:
    """Where the marker of a JPEG's frame header stands; None where there is none that is known."""
    at = 2 if data.startswith(JPEG) else len(data)
    while at + 9 < len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker in _FRAMES:
            return at
        if marker == 0xFF:  # a fill byte
            at += 1
        elif marker in _NO_LENGTH:
            at += 2
        else:
            at += 2 + struct.unpack_from(">H", data, at + 2)[0]
    return None


def _unit_rows(data: bytes, at: int) -> int:
    """Rows of the picture that are coded together; 0 where the header is cut off."""
    components = data[at + 9]
    factors = [data[k] & 15 for k in range(at + 11, at + 11 + 3 * components, 3) if k < len(data)]
    return 8 * max(factors) if len(factors) == components > 0 else 0
