"""The plain script: what a good engineer writes in an hour with general libraries.

Flatten the light, label every pixel with the nearest of the expected colours, clean the
mask of each ink, choose the piece whose area, outline and place fit best, and take the
grey-weighted centre of it. OpenCV and scikit-image calls on job and camera alone; it knows
no doubt and calls every mark it finds good. Shares no code with regscan.marks.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from skimage.color import lab2rgb

from regscan.camera.camera import Camera
from regscan.job.job import Colour, Job
from regscan.job.layout import MarkDesign
from regscan.recording.frame import Frame
from regscan.simulator.shapes import Outline

_DEMOSAIC = {
    "rggb": cv2.COLOR_BayerRGGB2RGB,
    "bggr": cv2.COLOR_BayerBGGR2RGB,
    "grbg": cv2.COLOR_BayerGRBG2RGB,
    "gbrg": cv2.COLOR_BayerGBRG2RGB,
}
_GREY = np.array([0.2126, 0.7152, 0.0722])
_WINDOW_MM = 4.0
_RIM_PX = 5
_BARE = 0.06  # of full scale: what differs less from the substrate is not printed


@dataclass(frozen=True, slots=True)
class Piece:
    """One connected piece of one ink's mask."""

    row_px: float
    col_px: float
    label: int
    unlike: float


class PlainScript:
    """Set up once per job and camera, as a script's constants would be."""

    def __init__(self, job: Job, camera: Camera, *, mono: bool) -> None:
        self.job, self.camera = job, camera
        self.paper = _code(job.substrate, camera, mono=mono)
        self.inks = {ink.name: _code(ink.colour, camera, mono=mono) for ink in job.inks}
        self.outlines = {mark.ink: _picture(mark, camera) for mark in job.marks}

    def measure(self, frame: Frame) -> dict[str, tuple[float, float]]:
        """(row, col) px per ink found."""
        picture = _flat(_channels(frame, self.camera), self.paper)
        masks = self._masks(picture)
        pieces = {mark.ink: self._pieces(mark, masks[mark.ink]) for mark in self.job.marks}
        return {
            mark.ink: self._centre(picture, mark, piece, masks[mark.ink])
            for mark, piece in zip(self.job.marks, self._chosen(pieces), strict=True)
            if piece is not None
        }

    def _masks(self, picture: np.ndarray) -> dict[str, np.ndarray]:
        """Which pixels each ink covers, pairs of inks on each other included."""
        names: list[tuple[str, ...]] = [(), *((name,) for name in self.inks)]
        colours = [self.paper, *self.inks.values()]
        if picture.shape[2] == 3:
            clear = [ink.name for ink in self.job.inks if ink.cover == "transparent"]
            for k, one in enumerate(clear):
                for other in clear[:k]:
                    names.append((one, other))
                    colours.append(self.inks[one] * self.inks[other] / self.paper)
        printed = np.abs(picture - self.paper).max(axis=2) > _BARE
        seen = picture[printed]
        gaps = np.stack([((seen - colour) ** 2).sum(axis=1) for colour in colours])
        nearest = np.zeros(printed.shape, np.int32)
        nearest[printed] = gaps.argmin(axis=0)
        kernel = np.ones((3, 3), np.uint8)
        masks = {}
        for ink in self.inks:
            own = [k for k, members in enumerate(names) if ink in members]
            if picture.shape[2] == 1:
                own = list(range(1, len(colours)))
            mask = np.isin(nearest, own).astype(np.uint8)
            masks[ink] = cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel)
        return masks

    def _pieces(self, mark: MarkDesign, mask: np.ndarray) -> list[Piece]:
        """The pieces of about the right size, with how unlike the outline each is."""
        design = self.outlines[mark.ink]
        outline = _contour(design)
        area = float(design.sum())
        count, labels, stats, centres = cv2.connectedComponentsWithStats(mask)
        found = []
        for label in range(1, count):
            if 0.5 * area < stats[label, cv2.CC_STAT_AREA] < 1.7 * area:
                left, top, width, height = stats[label, :4]
                near = labels[top : top + height, left : left + width]
                own = _contour((near == label).astype(np.uint8))
                unlike = cv2.matchShapes(outline, own, cv2.CONTOURS_MATCH_I1, 0.0)
                found.append(Piece(centres[label][1], centres[label][0], label, unlike))
        return found

    def _chosen(self, pieces: dict[str, list[Piece]]) -> list[Piece | None]:
        """For each mark the most alike piece that lies about right against the reference's."""
        places = {
            mark.ink: self.camera.step_to_pixels(mark.circumferential_mm, mark.lateral_mm)
            for mark in self.job.marks
        }
        base = min(pieces[self.job.reference], key=lambda piece: piece.unlike, default=None)
        chosen: list[Piece | None] = []
        for mark in self.job.marks:
            best, least = None, math.inf
            for piece in pieces[mark.ink]:
                cost = piece.unlike
                if base is not None:
                    own, other = places[mark.ink], places[self.job.reference]
                    off = math.hypot(
                        piece.row_px - base.row_px - own[0] + other[0],
                        piece.col_px - base.col_px - own[1] + other[1],
                    )
                    off_mm = off * self.camera.mm_per_px
                    cost = math.inf if off_mm > _WINDOW_MM else cost + 0.1 * off_mm
                if cost < least:
                    best, least = piece, cost
            chosen.append(best)
        return chosen

    def _centre(
        self, picture: np.ndarray, mark: MarkDesign, piece: Piece, mask: np.ndarray
    ) -> tuple[float, float]:
        """Grey-weighted centre of the piece and a rim around it, less the outline's own."""
        _, labels = cv2.connectedComponents(mask)
        own = (labels == piece.label).astype(np.uint8)
        left, top, width, height = cv2.boundingRect(own)
        rows = slice(max(top - _RIM_PX, 0), top + height + _RIM_PX)
        cols = slice(max(left - _RIM_PX, 0), left + width + _RIM_PX)
        size = (2 * _RIM_PX + 1, 2 * _RIM_PX + 1)
        near = cv2.dilate(own[rows, cols], cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size))
        way = self.inks[mark.ink] - self.paper
        share = (picture[rows, cols] - self.paper) @ way / float(way @ way)
        weight = np.clip(share, 0.0, 1.2) * near
        moments = cv2.moments(weight.astype(np.float32))
        total = max(moments["m00"], 1e-9)
        design = cv2.moments(self.outlines[mark.ink])
        half = (np.array(self.outlines[mark.ink].shape) - 1) / 2.0
        return (
            rows.start + moments["m01"] / total - (design["m01"] / design["m00"] - half[0]),
            cols.start + moments["m10"] / total - (design["m10"] / design["m00"] - half[1]),
        )


def _channels(frame: Frame, camera: Camera) -> np.ndarray:
    """rows x cols x channels, 0..1."""
    pixels = frame.pixels
    if camera.mosaic and pixels.ndim == 2:
        pixels = cv2.cvtColor(pixels, _DEMOSAIC[camera.mosaic])
    picture = pixels.astype(np.float32) / np.float32(frame.full_scale)
    return picture if picture.ndim == 3 else picture[..., None]


def _flat(picture: np.ndarray, paper: np.ndarray) -> np.ndarray:
    """The picture with its bare substrate, a median over wide surroundings, made `paper`."""
    rows, cols, channels = picture.shape
    small = cv2.resize(picture, (cols // 8, rows // 8), interpolation=cv2.INTER_AREA)
    small = small.reshape(rows // 8, cols // 8, channels)
    flat = np.empty_like(picture)
    for k in range(channels):
        coded = (small[..., k] * 255.0).astype(np.uint8)
        level = cv2.GaussianBlur(cv2.medianBlur(coded, 41).astype(np.float32), (0, 0), 6.0)
        whole = cv2.resize(level, (cols, rows), interpolation=cv2.INTER_LINEAR) / 255.0
        flat[..., k] = picture[..., k] / np.maximum(whole, 0.01) * paper[k]
    return flat


def _code(colour: Colour | None, camera: Camera, *, mono: bool) -> np.ndarray:
    """A job's colour as this camera codes it, per channel."""
    assert colour is not None
    assert colour.values is not None
    values = np.array(colour.values, dtype=float)
    if colour.space == "lab":
        coded = np.clip(lab2rgb(values.reshape(1, 1, 3)).ravel(), 0.0, 1.0)
        light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    else:
        light = values
    if mono:
        light = np.array([light @ _GREY])
    if camera.tone == "linear":
        return light.astype(np.float32)
    curved = 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, curved).astype(np.float32)


def _picture(mark: MarkDesign, camera: Camera) -> np.ndarray:
    """The design's outline filled, uint8, its own place in the middle."""
    outline = Outline(mark.shape)
    half = math.ceil(outline.reach_mm / camera.mm_per_px) + 3
    steps = np.arange(-half, half + 1)
    (a, b), (c, d) = camera.matrix
    rows, cols = np.meshgrid(steps, steps, indexing="ij")
    inside = outline.distance_mm(a * rows + b * cols, c * rows + d * cols) < 0.0
    return inside.astype(np.uint8)


def _contour(mask: np.ndarray) -> np.ndarray:
    contours: Sequence[np.ndarray]
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return max(contours, key=cv2.contourArea)
