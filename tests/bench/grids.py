"""What calibration reaches: drawn grids, marks before and after, and real photographs.

Photographs come from the Debian packages opencv-doc and visp-images-data; rows without
them say so. OpenCV's own calibration stands beside ours on the same pictures.

    python tests/bench/grids.py [--tiny]
"""

import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS)]

from outside import photographs  # noqa: E402

from regscan.camera.camera import Camera  # noqa: E402
from regscan.instrument.calibration import rms_length  # noqa: E402
from regscan.instrument.grid.fit import fit_grids  # noqa: E402
from regscan.instrument.grid.look import look_at  # noqa: E402
from regscan.marks.finder import MarkFinder  # noqa: E402
from regscan.simulator.draw import draw_frame  # noqa: E402
from regscan.simulator.look import Look, Sensor, Shot  # noqa: E402
from tests.instrument.drawn_grids import DOTS, calibrated, draw  # noqa: E402
from tests.instrument.grid.nodes import CAMERA, SIZE, map_error_um  # noqa: E402
from tests.marks.conftest import errors_px, six_colours  # noqa: E402

Row = tuple[str, float, float, bool]  # what, reached, limit (NaN: none), held

BOARD = (9, 6)
ANY = Camera(1.0, 1.0)
CORNERS = [(45.3, 45.6), (45.8, 270.1), (260.4, 45.2), (260.9, 270.7)]


def row(what: str, reached: float, limit: float = float("nan")) -> Row:
    """A row, held where there is a limit to hold."""
    return what, reached, limit, not reached > limit


def drawn(folder: Path, tiny: bool) -> Iterator[Row]:
    """Grids drawn through a lens that bends and parts colours, and marks through the same."""
    files = [
        draw(folder, f"{k}.png", replace(DOTS, turn_deg=turn), seed=k)
        for k, turn in enumerate([0.0, -7.0] if tiny else [0.0, 11.0, -7.0])
    ]
    found = calibrated(files[:-1], checks=(files[-1],))
    yield row("drawn grids: residual, px", found.rms_px, 0.03)
    yield row("  on the check frame, px", found.proofs[0].rms_px, 0.03)
    frames = found.of("fit")
    for name in ("red", "blue"):
        before, after = (
            rms_length(np.concatenate([f.parted(getattr(f, name + end)) for f in frames]))
            for end in ("", "_left")
        )
        yield row(f"  {name} off green before, px rms", before)
        yield row(f"  {name} off green after, px rms", after, 0.03)
    worst = float(np.abs(map_error_um(found.camera, CAMERA)).max())
    yield row("  map to the web, worst, um", worst)
    yield from marks(found.camera, CORNERS[:1] if tiny else CORNERS)


def marks(found: Camera, corners: list[tuple[float, float]]) -> Iterator[Row]:
    """Places of marks in the corners, by a plain camera and by the calibrated one."""
    job, look = six_colours(), Look(sensor=Sensor(noise_grey=0.5, bits=16))
    plain = replace(CAMERA, lens=None)
    for name, camera, limit in (("before", plain, float("nan")), ("after", found, 0.03)):
        worst = 0.0
        for number, origin in enumerate(corners):
            frame, truth = draw_frame(job, CAMERA, {}, look, Shot(*SIZE, number, origin))
            errors = errors_px(MarkFinder(job, camera).measure(frame), truth)
            worst = max(worst, float(np.abs(errors).max()))
        yield row(f"marks of six inks {name} calibration, worst, px", worst, limit)


def photographed(tiny: bool) -> Iterator[Row]:
    """Ours against OpenCV's on the same photographs."""
    for side in ("left", "right")[: 1 if tiny else 2]:
        if not photographs.CHESSBOARDS.is_dir():
            yield row(f"chessboard, {side}: no photographs (opencv-doc)", float("nan"))
            continue
        frames = photographs.pictures(photographs.CHESSBOARDS, f"{side}[0-9]*.jpg")
        frames = frames[: 4 if tiny else None]
        fit = fit_grids([look_at(f, ANY, "chessboard") for f in frames], 1.0, ANY)
        corners = [photographs.opencv_corners(f, BOARD, 5) for f in frames]
        board = np.array([(i, j) for j in range(BOARD[1]) for i in range(BOARD[0])], float)
        theirs = photographs.opencv_rms([board] * len(corners), corners, frames[0].pixels.shape)
        used = sum(int(u.sum()) for u in fit.used)
        yield row(f"chessboard, {side}, OpenCV, px", theirs)
        yield row(f"chessboard, {side}, ours ({used} corners), px", fit.rms_px, theirs)
    if not photographs.DOTS.is_dir():
        yield row("dots: no photographs (visp-images-data)", float("nan"))
        return
    frames = photographs.pictures(photographs.DOTS, "grid36-0*.pgm")
    fit = fit_grids([look_at(f, ANY, "dots") for f in frames], 1.0, ANY)
    kept = [(n[u], g.places[u]) for n, g, u in zip(fit.nodes, fit.grids, fit.used, strict=True)]
    theirs = photographs.opencv_rms(*map(list, zip(*kept, strict=True)), frames[0].pixels.shape)
    yield row("printed dots, OpenCV on the same dots, px", theirs)
    yield row(f"printed dots, ours ({sum(len(n) for n, _ in kept)} dots), px", fit.rms_px, theirs)


def main() -> int:
    """Print a table; 1 when a limit is not held (never with --tiny)."""
    tiny = "--tiny" in sys.argv[1:]
    held = True
    print(f"{'':58} {'reached':>9} {'wanted':>9}")
    with tempfile.TemporaryDirectory() as folder:
        for what, reached, limit, ok in (*drawn(Path(folder), tiny), *photographed(tiny)):
            most = "" if np.isnan(limit) else f"<= {limit:.3f}"
            value = "" if np.isnan(reached) else f"{reached:.4f}"
            print(f"{what:58} {value:>9} {most:>9}{'' if ok else '  NOT HELD'}")
            held &= ok
    return 0 if held or tiny else 1


if __name__ == "__main__":
    sys.exit(main())
