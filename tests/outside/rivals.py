"""The general libraries that section 7 of the check values lists, each as one function.

Every one takes a patch (H x W uint8, dark disc on light paper, disc about in the middle) and
what is known of the disc, and gives (row, col) px. They are handed the patch: finding the
mark costs them nothing. Settings are the best found for clean discs of known size.
"""

import importlib.util
import math
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from outside.drawn import PAPER, Look, cover_of
from regscan.job.layout import Disc

Place = tuple[float, float]


@dataclass(frozen=True)
class Known:
    """What a rival may know beforehand: all but the place."""

    radius_px: float
    look: Look
    size: tuple[int, int]

    def picture(self) -> np.ndarray:
        """H x W ideal disc of 1 on 0, centred on the middle pixel."""
        disc = Disc(2 * self.radius_px)
        return cover_of(self.size, self.middle, disc, 1.0, self.look)

    @property
    def middle(self) -> Place:
        return float(self.size[0] // 2), float(self.size[1] // 2)


Rival = Callable[[np.ndarray, Known], Place]


def _ink(patch: np.ndarray) -> np.ndarray:
    """Light taken by the ink: the border's median less the patch."""
    border = np.concatenate([patch[0], patch[-1], patch[:, 0], patch[:, -1]])
    return np.median(border) - patch.astype(np.float32)


def blob_detector(patch: np.ndarray, known: Known) -> Place:
    """cv2.SimpleBlobDetector, 36 thresholds clear of the noise of ink and paper."""
    contrast = known.look.contrast
    settings = cv2.SimpleBlobDetector.Params()
    settings.minThreshold = PAPER - 0.87 * contrast
    settings.maxThreshold = PAPER - 0.15 * contrast
    settings.thresholdStep = contrast / 50
    settings.filterByColor, settings.blobColor = True, 0
    settings.filterByArea = True
    settings.minArea, settings.maxArea = (f * math.pi * known.radius_px**2 for f in (0.5, 2.0))
    settings.filterByCircularity = settings.filterByConvexity = settings.filterByInertia = False
    (found,) = cv2.SimpleBlobDetector.create(settings).detect(patch)
    return found.pt[1], found.pt[0]


def regionprops(patch: np.ndarray, known: Known) -> Place:
    """skimage: Otsu's threshold, grown by the edge, weighted centroid of the largest region."""
    from skimage.filters import threshold_otsu
    from skimage.measure import label, regionprops

    ink = _ink(patch)
    dark = (patch < threshold_otsu(patch)).astype(np.uint8)
    grown = cv2.dilate(dark, np.ones((7, 7), np.uint8))
    largest = max(regionprops(label(grown), ink), key=lambda r: r.area)
    return tuple(map(float, largest.centroid_weighted))


def grey_moments(patch: np.ndarray, known: Known) -> Place:
    """cv2.moments of the patch less its background, small values cut away."""
    ink = _ink(patch)
    ink[ink < 0.1 * ink.max()] = 0
    m = cv2.moments(ink)
    return m["m01"] / m["m00"], m["m10"] / m["m00"]


def match_template(patch: np.ndarray, known: Known) -> Place:
    """cv2.matchTemplate with the ideal disc, and a parabola through the peak."""
    picture = (255 - 255 * known.picture()).astype(np.float32)
    room = 4
    inner = picture[room:-room, room:-room]
    score = cv2.matchTemplate(patch.astype(np.float32), inner, cv2.TM_CCOEFF_NORMED)
    row, col = np.unravel_index(np.argmax(score), score.shape)
    row, col = (int(np.clip(k, 1, n - 2)) for k, n in zip((row, col), score.shape, strict=True))
    top = known.middle[0] - room, known.middle[1] - room
    return (
        row + top[0] + _peak(score[row - 1 : row + 2, col]),
        col + top[1] + _peak(score[row, col - 1 : col + 2]),
    )


def _peak(three: np.ndarray) -> float:
    """Place of a parabola's top through three values, from the middle one."""
    before, at, after = map(float, three)
    return 0.5 * (before - after) / (before - 2 * at + after)


def phase_correlation(patch: np.ndarray, known: Known) -> Place:
    """skimage.registration.phase_cross_correlation against the ideal disc, x 100."""
    from skimage.registration import phase_cross_correlation

    moved, *_ = phase_cross_correlation(
        _ink(patch), known.picture(), upsample_factor=100, normalization=None
    )
    return known.middle[0] + float(moved[0]), known.middle[1] + float(moved[1])


def fit_ellipse(patch: np.ndarray, known: Known) -> Place:
    """cv2.fitEllipse on the outline of Otsu's threshold."""
    _, dark = cv2.threshold(patch, 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    outlines, _ = cv2.findContours(dark, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    (col, row), *_ = cv2.fitEllipse(max(outlines, key=len))
    return row, col


def least_squares(patch: np.ndarray, known: Known) -> Place:
    """scipy.optimize.least_squares: blurred disc plus plane, eight unknowns."""
    from scipy.optimize import least_squares
    from scipy.special import erf

    rows, cols = np.mgrid[: patch.shape[0], : patch.shape[1]].astype(float)
    middle = known.middle

    def model(p: np.ndarray) -> np.ndarray:
        row, col, radius, edge, contrast, paper, down, right = p
        inside = radius - np.hypot(rows - row, cols - col)
        cover = 0.5 * (1 + erf(inside / (math.sqrt(2) * edge)))
        plane = paper + down * (rows - middle[0]) + right * (cols - middle[1])
        return np.asarray(plane - contrast * cover)

    start = [*grey_moments(patch, known), known.radius_px, known.look.edge_px]
    start += [known.look.contrast, float(np.median(patch[0])), 0.0, 0.0]
    found = least_squares(lambda p: (model(p) - patch).ravel(), start, method="lm")
    return float(found.x[0]), float(found.x[1])


def gaussian_2d(patch: np.ndarray, known: Known) -> Place:
    """photutils.centroids.centroid_2dg."""
    from photutils.centroids import centroid_2dg

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        col, row = centroid_2dg(_ink(patch).astype(float))
    return float(row), float(col)


def particle_locate(patch: np.ndarray, known: Known) -> Place:
    """trackpy.locate, diameter tuned to the disc and its edge."""
    import trackpy

    trackpy.quiet()
    diameter = 2 * math.ceil(known.radius_px + 2 * known.look.edge_px) + 1
    around = np.pad(patch, diameter, mode="median")
    for window in (diameter, 2 * diameter + 1):
        # Its own background window of one diameter is best, but hollows large discs out.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            table = trackpy.locate(
                around, diameter, invert=True, smoothing_size=window, max_iterations=60
            )
        places = np.array([table.y, table.x]).T - diameter
        off = np.hypot(*(places - known.middle).T)
        if len(off) and off.min() < known.radius_px / 4:
            break
    row, col = places[np.argmin(off)]
    return float(row), float(col)


RIVALS: dict[str, tuple[Rival, str]] = {  # the row's name, and the module it needs
    "least squares, disc + plane (scipy)": (least_squares, "scipy"),
    "phase_cross_correlation x100 (skimage)": (phase_correlation, "skimage"),
    "SimpleBlobDetector (cv2)": (blob_detector, "cv2"),
    "regionprops weighted (skimage)": (regionprops, "skimage"),
    "matchTemplate + parabola (cv2)": (match_template, "cv2"),
    "grey moments (cv2)": (grey_moments, "cv2"),
    "centroid_2dg (photutils)": (gaussian_2d, "photutils"),
    "locate (trackpy)": (particle_locate, "trackpy"),
    "fitEllipse (cv2)": (fit_ellipse, "cv2"),
}
SLOW = {"centroid_2dg (photutils)", "locate (trackpy)"}


def available() -> tuple[dict[str, Rival], list[str]]:
    """Rivals whose library is here, and the names of the rows left out."""
    there = {
        name: importlib.util.find_spec(module) is not None for name, (_, module) in RIVALS.items()
    }
    return (
        {name: RIVALS[name][0] for name, yes in there.items() if yes},
        [name for name, yes in there.items() if not yes],
    )
