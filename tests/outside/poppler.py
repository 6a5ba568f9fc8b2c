"""Poppler's pdftoppm draws the page: the second outside renderer.

It has no separations here, so the page is drawn once per ink, black on white.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

from PIL import Image

from outside.page import Page, pdf_of
from outside.plates import FINE_DPI, Plates, pixels_across, words_of


def found() -> bool:
    return shutil.which("pdftoppm") is not None


def draw(page: Page) -> Plates:
    """Plates of a page whose sides are whole camera pixels (0.01 mm)."""
    rows, cols = pixels_across(page.height_mm), pixels_across(page.width_mm)
    planes = {}
    for ink in page.inks:
        with tempfile.TemporaryDirectory() as folder:
            source, target = Path(folder, "page.pdf"), Path(folder, "plate")
            source.write_bytes(pdf_of(page, (ink,)))
            command = ["pdftoppm", "-r", str(FINE_DPI), "-mono", "-singlefile", source, target]
            subprocess.run(command, check=True, capture_output=True)
            with Image.open(target.with_suffix(".pbm")) as plate:
                planes[ink] = words_of(plate, rows, cols)
    return Plates(planes)
