"""Ghostscript draws the page: one 1-bit plate per separation at 40 640 dpi.

Averaging fine pixels into 10 um camera pixels is what `-dDownScaleFactor` does; the plates
are kept fine here because the shares of *combinations* of inks in a pixel are needed, and
those cannot be told from plates already averaged. Three things of Ghostscript's own would
else stand in a camera pixel's thousandths:

- its rule of painting every fine pixel a shape touches widens shapes by a fine pixel and
  moves the centroid of a triangle; a fill adjustment of nought paints by pixel centres;
- curves are drawn as chords; a small flatness keeps these off the circle by nothing;
- 8 fine pixels (20 320 dpi) leave a disc's centroid an error of up to 0.005 px, 16 leave 0.002.

Straight edges that lie along the pixel grid are rounded to a fine pixel all along, so marks
with straight edges belong on the page a few degrees turned, or with edges on the fine grid.
"""

import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from outside.page import Page, pdf_of, separation
from outside.plates import FINE, FINE_DPI, PX_MM, Plates

# No halftone can touch a full solid on a 1-bit plate.
_OPTIONS = ("-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep1", f"-r{FINE_DPI}")
_EXACT = ("-c", "0 0 .setfilladjust2 0.2 setflat", "-f")


def found() -> bool:
    return shutil.which("gs") is not None


def draw(page: Page) -> Plates:
    """Plates of a page whose sides are whole camera pixels (0.01 mm)."""
    rows, cols = (round(side / PX_MM) * FINE for side in (page.height_mm, page.width_mm))
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder, "page.pdf")
        source.write_bytes(pdf_of(page))
        target = Path(folder, "plate.tif")
        command = [
            "gs",
            *_OPTIONS,
            f"-g{cols}x{rows}",
            f"-sOutputFile={target}",
            *_EXACT,
            str(source),
        ]
        subprocess.run(command, check=True, capture_output=True)
        return Plates(
            {ink: _plate(Path(folder, f"plate({separation(ink)}).tif")) for ink in page.inks}
        )


def _plate(path: Path) -> np.ndarray:
    """True where ink lies; a plate shows ink as black."""
    with Image.open(path) as image:
        return ~np.asarray(image.convert("1"))
