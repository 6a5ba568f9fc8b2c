"""Flawed: what doubling, slur, hickeys and half impression do to one layer's cover."""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from regscan.camera.camera import Camera
from regscan.simulator.defects import Defect, Double, HalfPrint, Hickey, Slur
from regscan.simulator.regions import FINE


def flawed(
    cover: np.ndarray,
    places_mm: tuple[np.ndarray, np.ndarray],
    defects: Sequence[Defect],
    camera: Camera,
) -> np.ndarray:
    """Cover 0..1 of a layer's fine grid after its defects, ink moved first, then ink lost.

    places_mm   (circumferential, lateral) of the grid about the mark's centre.
    """
    for defect in defects:
        if isinstance(defect, Double | Slur):
            cover = _MOVING[type(defect)](cover, defect, camera)
    square_mm = camera.mm_per_px / FINE
    for defect in defects:
        if isinstance(defect, Hickey | HalfPrint):
            cover = cover * _LOSING[type(defect)](defect, *places_mm, square_mm)
    return cover


def _doubled(cover: np.ndarray, defect: Double, camera: Camera) -> np.ndarray:
    by_mm = (defect.circumferential_mm, defect.lateral_mm)
    return np.maximum(cover, defect.strength * _moved(cover, by_mm, camera))


def _slurred(cover: np.ndarray, defect: Slur, camera: Camera) -> np.ndarray:
    length_mm = defect.length_um / 1000.0
    steps = max(4, math.ceil(2.0 * length_mm / camera.mm_per_px * FINE))
    whole = cover
    for step in range(1, steps):
        left = 1.0 - step / steps
        tail = _moved(whole, (length_mm * step / steps, 0.0), camera)
        cover = np.maximum(cover, defect.strength * left * tail)
    return cover


def _moved(cover: np.ndarray, by_mm: tuple[float, float], camera: Camera) -> np.ndarray:
    """The cover moved along the web; bilinear between fine squares."""
    import cv2

    row, col = camera.step_to_pixels(*by_mm)
    matrix = np.array([[1.0, 0.0, col * FINE], [0.0, 1.0, row * FINE]])
    size = cover.shape[1], cover.shape[0]
    return np.asarray(cv2.warpAffine(cover, matrix, size, flags=cv2.INTER_LINEAR))


def _around_grain(
    defect: Hickey, along: np.ndarray, across: np.ndarray, square_mm: float
) -> np.ndarray:
    """1 where ink may lie: on the grain's own spot and outside its ring."""
    radius = np.hypot(along - defect.circumferential_mm, across - defect.lateral_mm)
    spot = defect.diameter_um / 2000.0
    ring = spot + defect.halo_um / 1000.0
    inked = np.maximum(spot - radius, radius - ring)
    return np.asarray(np.clip(0.5 + inked / square_mm, 0.0, 1.0))


def _impressed(
    defect: HalfPrint, along: np.ndarray, across: np.ndarray, square_mm: float
) -> np.ndarray:
    """Share of the ink that was transferred, falling across the line."""
    turn = math.radians(defect.toward_deg)
    beyond = along * math.cos(turn) + across * math.sin(turn) - defect.at_mm
    return np.asarray(np.clip(0.5 - beyond / max(defect.fade_mm, square_mm), 0.0, 1.0))


_MOVING: dict[type, Callable[[np.ndarray, Any, Camera], np.ndarray]] = {
    Double: _doubled,
    Slur: _slurred,
}
_LOSING: dict[type, Callable[[Any, np.ndarray, np.ndarray, float], np.ndarray]] = {
    Hickey: _around_grain,
    HalfPrint: _impressed,
}
