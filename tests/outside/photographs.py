"""Real photographs of grids, from Debian packages; never committed, never redistributed.

opencv-doc: a chessboard of 9 x 6 inner corners held before two cameras, 13 pictures each.
visp-images-data: a sheet of 6 x 6 printed dots, 4 pictures.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from regscan.recording.frame import Frame, FrameInfo

CHESSBOARDS = Path("/usr/share/doc/opencv-doc/examples/data")
DOTS = Path("/usr/share/visp-images-data/ViSP-images/calibration")

needs_chessboards = pytest.mark.skipif(
    not CHESSBOARDS.is_dir(), reason="needs photographs (Debian package opencv-doc)"
)
needs_dots = pytest.mark.skipif(
    not DOTS.is_dir(), reason="needs photographs (Debian package visp-images-data)"
)


def pictures(folder: Path, pattern: str) -> list[Frame]:
    """The photographs as frames, in order of their names."""
    paths = sorted(folder.glob(pattern))
    return [
        Frame(FrameInfo(path.name, k), cv2.imread(str(path), cv2.IMREAD_GRAYSCALE))
        for k, path in enumerate(paths)
    ]


def opencv_rms(nodes: list[np.ndarray], places: list[np.ndarray], size: tuple[int, int]) -> float:
    """What cv2.calibrateCamera reaches on nodes (N x 2) seen at places (N x 2 row, col px)."""
    grid = [np.column_stack([n, np.zeros(len(n))]).astype(np.float32) for n in nodes]
    seen = [np.ascontiguousarray(p[:, ::-1], np.float32).reshape(-1, 1, 2) for p in places]
    return float(cv2.calibrateCamera(grid, seen, size[::-1], None, None)[0])


def opencv_corners(frame: Frame, board: tuple[int, int], window: int) -> np.ndarray | None:
    """N x 2 (row, col) px by OpenCV's own search and refinement, as in its manual."""
    found, corners = cv2.findChessboardCorners(frame.pixels, board)
    if not found:
        return None
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 30, 0.001)
    corners = cv2.cornerSubPix(frame.pixels, corners, (window, window), (-1, -1), stop)
    return corners.reshape(-1, 2)[:, ::-1]
