"""Look: the grid in one frame, or why it cannot be read there."""

from dataclasses import dataclass

import cv2
import numpy as np

from regscan.camera.camera import Camera
from regscan.errors import Problem
from regscan.instrument.grid.blobs import Blobs, find_blobs
from regscan.instrument.grid.corners import find_corners, refine_corners
from regscan.instrument.grid.discs import place_discs
from regscan.instrument.grid.lattice import number_nodes
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.plate import GridKind
from regscan.marks.seeing.light import colour_planes, to_light
from regscan.recording.frame import Frame

FEWEST_NODES = 12
REGULAR = 0.5  # of all that looks like a node must be one: else this is no regular grid
SOFTEST_SHARE = 0.11  # of the pitch: softer than this, dots melt into a wave
SOFTEST_PX = 6.0


@dataclass(frozen=True)
class Nothing:
    """Why a frame shows no grid that can be used."""

    frame: str
    problem: Problem


def look_at(frame: Frame, camera: Camera, kind: GridKind) -> SeenGrid | Nothing:
    """The nodes of the grid in a frame, each placed in every channel."""
    planes = colour_planes(frame.pixels, camera)
    channels = [
        np.ascontiguousarray(to_light(planes[..., k], camera.tone, frame.full_scale))
        for k in range(planes.shape[2])
    ]
    green = channels[len(channels) // 2]
    if float(np.percentile(green, 99.5) - np.percentile(green, 0.5)) < 0.02:
        what, cure = "is one even colour", "light the grid, and point the camera at it"
        return Nothing(frame.info.name, Problem(frame.info.name, what, cure))
    read = _dots if kind == "dots" else _corners
    return read(frame, channels, green)


def _dots(frame: Frame, channels: list[np.ndarray], green: np.ndarray) -> SeenGrid | Nothing:
    name = frame.info.name
    found = [find_blobs(green, dark=dark) for dark in (True, False)]
    numbered = [number_nodes(blobs.places) for blobs in found]
    best = int(np.argmax([np.isfinite(nodes[:, 0]).sum() for nodes in numbered]))
    blobs, nodes = found[best], numbered[best]
    kept = np.isfinite(nodes[:, 0])
    problem = _unusable(name, len(nodes), int(kept.sum()), green, "dots")
    if problem:
        return Nothing(name, problem)
    dots = Blobs(blobs.places[kept], blobs.spread[kept], blobs.dark)
    discs = [place_discs(plane, dots) for plane in channels]
    middle = discs[len(discs) // 2]
    pitch = pitch_px(nodes[kept], dots.places)
    # Dots too soft to be fitted do not say how soft they are; the picture does.
    placed = np.isfinite(middle.places[:, 0]).mean() > 0.5
    soft = _too_soft(name, middle.edge_px if placed else edge_width_px(green), pitch)
    if soft:
        return Nothing(name, soft)
    diameter = 2.0 * float(np.median(dots.radius_px))
    places = [d.places for d in discs]
    return _seen(frame, nodes[kept], places, (pitch, diameter, middle.edge_px))


def _corners(frame: Frame, channels: list[np.ndarray], green: np.ndarray) -> SeenGrid | Nothing:
    name = frame.info.name
    corners = find_corners(green)
    nodes = number_nodes(corners)
    kept = np.isfinite(nodes[:, 0])
    # What else stands in the picture may well look like corners, so no share is asked for.
    problem = _unusable(name, int(kept.sum()), int(kept.sum()), green, "corners")
    if problem:
        return Nothing(name, problem)
    pitch = pitch_px(nodes[kept], corners[kept])
    edge = edge_width_px(green)
    soft = _too_soft(name, edge, pitch)
    if soft:
        return Nothing(name, soft)
    places = [refine_corners(plane, corners[kept], pitch) for plane in channels]
    return _seen(frame, nodes[kept], places, (pitch, 0.0, edge))


def _seen(
    frame: Frame, nodes: np.ndarray, places: list[np.ndarray], sizes: tuple[float, float, float]
) -> SeenGrid | Nothing:
    """Only nodes that green shows count."""
    green = places[len(places) // 2]
    there = np.isfinite(green[:, 0])
    name = frame.info.name
    if there.sum() < FEWEST_NODES:
        what = f"only {there.sum()} of {len(there)} nodes could be placed"
        return Nothing(
            name, Problem(name, what, "focus on the grid, clean it and the lens, light it evenly")
        )
    parted = len(places) == 3
    return SeenGrid(
        frame=name,
        size=(frame.pixels.shape[0], frame.pixels.shape[1]),
        nodes=nodes[there].astype(int),
        places=green[there],
        red=places[0][there] if parted else None,
        blue=places[2][there] if parted else None,
        pitch_px=sizes[0],
        dot_px=sizes[1],
        edge_px=sizes[2],
    )


def pitch_px(nodes: np.ndarray, places: np.ndarray) -> float:
    """Median distance of neighbouring nodes, px."""
    index = {(int(i), int(j)): k for k, (i, j) in enumerate(nodes)}
    steps = [
        float(np.linalg.norm(places[k] - places[other]))
        for (i, j), k in index.items()
        for other in (index.get((i + 1, j)), index.get((i, j + 1)))
        if other is not None
    ]
    return float(np.median(steps)) if steps else float("nan")


def _unusable(name: str, seen: int, numbered: int, green: np.ndarray, what: str) -> Problem | None:
    if numbered >= FEWEST_NODES and numbered >= REGULAR * seen:
        return None
    soft = edge_width_px(green)
    if soft > SOFTEST_PX:
        text = f"nothing in it is sharp: its sharpest edges are {soft:.0f} px soft"
        return Problem(name, text, "focus on the grid, with the web standing still")
    if numbered < FEWEST_NODES:
        text = (
            f"no grid found: {numbered} {what} that lie on a square grid, {FEWEST_NODES} are needed"
        )
        cure = "show more of the grid, evenly lit; for a chessboard give --grid chessboard"
        return Problem(name, text, cure)
    text = f"the grid is not regular: {numbered} of {seen} {what} lie on one square grid"
    return Problem(name, text, "use a grid with one pitch in both directions, and clean it")


def _too_soft(name: str, edge: float, pitch: float) -> Problem | None:
    limit = min(SOFTEST_PX, SOFTEST_SHARE * pitch)
    if edge <= limit:
        return None
    text = f"the grid is blurred: its edges are {edge:.1f} px soft, {limit:.1f} px are allowed"
    return Problem(name, text, "focus on the grid, with the web standing still")


def edge_width_px(light: np.ndarray) -> float:
    """Softness (one sigma) of the sharpest edges: contrast over steepest slope."""
    calm = cv2.GaussianBlur(light, (0, 0), 1.0)
    contrast = float(np.percentile(calm, 95.0) - np.percentile(calm, 5.0))
    slope = np.hypot(cv2.Sobel(calm, cv2.CV_32F, 0, 1), cv2.Sobel(calm, cv2.CV_32F, 1, 0)) / 8.0
    steepest = float(np.percentile(slope, 99.5))
    # A Gaussian edge is steepest by contrast / (sigma sqrt(2 pi)); smoothing added one px.
    wide = contrast / (steepest * np.sqrt(2.0 * np.pi)) if steepest > 0.0 else np.inf
    return float(np.sqrt(max(wide**2 - 1.0, 0.1)))
