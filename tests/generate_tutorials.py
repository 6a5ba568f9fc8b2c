"""Writes what the tutorials' commands print, and their pictures, into the tutorials.

Run after changing what a command says: python tests/generate_tutorials.py
"""

import tempfile
from pathlib import Path

import cv2
from tutorials import ENGINEER, OPERATOR, QUALITY, pictures, reduced, run, steps


def write_anew(page: Path) -> None:
    """Run a page's blocks and put what they give in the place of what it shows."""
    text = page.read_text(encoding="utf-8")
    blocks = steps(text)
    with tempfile.TemporaryDirectory() as scratch:
        printed = run(blocks, Path(scratch))
        for place, source in pictures(text):
            place.parent.mkdir(parents=True, exist_ok=True)
            picture = reduced(Path(scratch) / source)
            cv2.imwrite(str(place), picture, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
            print(place)
    for block, said in reversed(list(zip(blocks, printed, strict=True))):
        if block.told is not None:
            start, end = block.told_at
            text = text[:start] + block.shown(said) + text[end:]
    page.write_text(text, encoding="utf-8")
    print(page)


if __name__ == "__main__":
    for one in (OPERATOR, ENGINEER):
        write_anew(one)
