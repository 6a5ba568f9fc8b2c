"""Which files are frames, by the ends of their names, and in which order they stand."""

import re
from pathlib import Path

PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp")
VIDEOS = (".avi", ".mp4", ".m4v", ".mov", ".mkv", ".mpg", ".mpeg", ".webm", ".wmv")

_NUMBER = re.compile(r"([0-9]+)")


def is_picture(path: Path) -> bool:
    """Whether a file's name says that it is a picture regscan reads."""
    return path.suffix.lower() in PICTURES


def is_video(path: Path) -> bool:
    """Whether a file's name says that it is a video."""
    return path.suffix.lower() in VIDEOS


def may_have_pages(path: Path) -> bool:
    """Whether a picture file of that name may hold several pictures."""
    return path.suffix.lower() in (".tif", ".tiff")


def natural_key(name: str) -> tuple[list[str | int], str]:
    """Sorts frame2 before frame10, as people count; equal but for case, as written."""
    parts = _NUMBER.split(name.casefold())
    return [int(part) if k % 2 else part for k, part in enumerate(parts)], name
