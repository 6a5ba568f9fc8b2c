"""Poppler's pdftoppm draws the page: the second outside renderer.

It has no separations here, so the page is drawn once per ink, black on white.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from outside.page import Page, pdf_of
from outside.plates import FINE, FINE_DPI, PX_MM, Plates


def found() -> bool:
    return shutil.which("pdftoppm") is not None


def draw(page: Page) -> Plates:
    rows, cols = (round(side / PX_MM) * FINE for side in (page.height_mm, page.width_mm))
    return Plates({ink: _plate(pdf_of(page, (ink,)))[:rows, :cols] for ink in page.inks})


def _plate(pdf: bytes) -> np.ndarray:
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder, "page.pdf"), Path(folder, "plate")
        source.write_bytes(pdf)
        command = ["pdftoppm", "-r", str(FINE_DPI), "-mono", "-singlefile", source, target]
        subprocess.run(command, check=True, capture_output=True)
        with Image.open(target.with_suffix(".pbm")) as image:
            return ~np.asarray(image.convert("1"))
