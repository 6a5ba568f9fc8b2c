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

from PIL import Image

from outside.page import Page, pdf_of, separation
from outside.plates import FINE, FINE_DPI, Plates, pixels_across, words_of

# No halftone can touch a full solid on a 1-bit plate.
_OPTIONS = ("-q", "-dNOPAUSE", "-dBATCH", "-dSAFER", "-sDEVICE=tiffsep1", f"-r{FINE_DPI}")
_EXACT = ("-c", "0 0 .setfilladjust2 0.2 setflat", "-f")


def found() -> bool:
    return shutil.which("gs") is not None


def draw(page: Page) -> Plates:
    """Plates of a page whose sides are whole camera pixels (0.01 mm)."""
    rows, cols = pixels_across(page.height_mm), pixels_across(page.width_mm)
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder, "page.pdf")
        source.write_bytes(pdf_of(page))
        size, target = f"-g{cols * FINE}x{rows * FINE}", f"-sOutputFile={folder}/plate.tif"
        command = ["gs", *_OPTIONS, size, target, *_EXACT, str(source)]
        subprocess.run(command, check=True, capture_output=True)
        planes = {}
        for ink in page.inks:
            with Image.open(Path(folder, f"plate({separation(ink)}).tif")) as plate:
                planes[ink] = words_of(plate, rows, cols)
        return Plates(planes)
