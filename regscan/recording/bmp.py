"""BMP as uncompressed as most cameras write it: its bytes are the pixels, from the bottom up.

OpenCV's decoder gives the same values, but copies every row once more, and its channels are then
still to be turned round: half of what reading such a file takes.
"""

import struct

import numpy as np

from regscan.recording.quiet import quiet_cv2

ALL = slice(None)
_INFO = "<IiiHHI"  # size of this header, columns, rows, planes, bits a pixel, compression
_INFO_AT, _PIXELS_AT = 14, 10  # bytes into the file, as Windows defines a BITMAPFILEHEADER
_INFO_SIZES = (40, 108, 124)  # of the headers that begin with these fields


def plain_bmp(data: bytes, size: tuple[int, int], wanted: slice = ALL) -> np.ndarray | None:
    """H x W x 3 (R, G, B) uint8; None where the file is no whole BMP of 24 bits without
    compression that begins with its last row.

    size     rows and columns its header names.
    wanted   which rows are: those below are left out, those above are black.
    """
    if not data.startswith(b"BM") or len(data) < _INFO_AT + struct.calcsize(_INFO):
        return None
    info, cols, rows, _, bits, compression = struct.unpack_from(_INFO, data, _INFO_AT)
    (start,) = struct.unpack_from("<I", data, _PIXELS_AT)
    row_bytes = (3 * cols + 3) // 4 * 4  # rows are filled up to whole words
    told = info in _INFO_SIZES and bits == 24 and compression == 0 and (rows, cols) == size
    there = _INFO_AT + info <= start <= len(data) - rows * row_bytes
    if not (told and there and min(size) > 0):
        return None
    stored = np.frombuffer(data, np.uint8, rows * row_bytes, start).reshape(rows, row_bytes)
    cv2 = quiet_cv2()
    first, end, _ = wanted.indices(rows)
    of_use = stored[rows - end : rows - first, : 3 * cols].reshape(end - first, cols, 3)
    pixels = np.zeros((end, cols, 3), np.uint8)  # what is not written takes no memory
    cv2.cvtColor(of_use, cv2.COLOR_BGR2RGB, dst=pixels[first:])
    cv2.flip(pixels[first:], 0, dst=pixels[first:])
    return pixels
