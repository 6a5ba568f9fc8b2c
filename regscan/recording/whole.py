"""Is a picture file all there? A half-copied frame must not be half-measured.

Decoders differ in what they do with a file that stops short; some fill the rest
with grey. So the end that each format promises is looked for before decoding.
"""

_PNG, _PNG_END = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"
JPEG, _JPEG_SCAN, _JPEG_END = b"\xff\xd8\xff", b"\xff\xda", b"\xff\xd9"


def missing_end(data: bytes, tiff_end: int | None) -> str:
    """What shows that a picture's bytes stop short; "" when nothing does.

    tiff_end   bytes a TIFF needs, from its directory; None for other formats.
    """
    size = len(data)
    if data.startswith(_PNG):
        return "" if data.rfind(_PNG_END) > 0 else "is cut off: its end is missing"
    if data.startswith(JPEG):
        # The end must follow the last scan: a thumbnail inside has an end of its own.
        whole = data.rfind(_JPEG_END) > data.rfind(_JPEG_SCAN) > 0
        return "" if whole else "is cut off: its end is missing"
    needed = tiff_end or 0
    if data.startswith(b"RIFF"):
        needed = int.from_bytes(data[4:8], "little") + 8
    elif data.startswith(b"BM"):
        needed = _bmp_size(data)
    return f"is cut off: {size:,} of {needed:,} bytes are there" if size < needed else ""


def _bmp_size(data: bytes) -> int:
    """Bytes a BMP needs: its own statement, or 0 where it leaves it open."""
    return int.from_bytes(data[2:6], "little")
