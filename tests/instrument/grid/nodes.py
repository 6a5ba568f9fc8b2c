"""Grids without pictures: nodes placed by the simulator, with errors of known size."""

from dataclasses import dataclass

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour, Lens
from regscan.instrument.grid.seen import SeenGrid
from regscan.simulator.bent import seen_at

SIZE = (480, 640)
PITCH_MM = 0.5
LENS = Lens(
    *SIZE,
    (239.5, 319.5),
    radial_px=(4.0,),
    keystone_px=(2.0, -1.0),
    shear_px=0.6,
    red=LateralColour(0.1, -0.2, 1.0, 0.2),
    blue=LateralColour(0.0, 0.1, -1.0, -0.1),
)
CAMERA = Camera(0.012, 0.0121, rotation_deg=1.5, lens=LENS)


@dataclass(frozen=True)
class Laid:
    """How a grid lies: turned from the web's axes, its middle at a place of the frame."""

    turn_deg: float = 0.0
    middle_px: tuple[float, float] = (239.5, 319.5)
    lines: int = 14
    numbers: int = 18


def seen_grid(
    camera: Camera, laid: Laid, noise_px: float, seed: int, dot_px: float = 0.0
) -> SeenGrid:
    """The nodes that lie in the frame, each off by noise; in every channel that the lens parts."""
    rng = np.random.default_rng(seed)
    at = [
        (i, j)
        for i in range(-(laid.lines // 2), laid.lines - laid.lines // 2)
        for j in range(-(laid.numbers // 2), laid.numbers - laid.numbers // 2)
    ]
    turn = np.exp(1j * np.radians(laid.turn_deg))
    webs = [complex(i, j) * PITCH_MM * turn for i, j in at]
    places = np.array([seen_at(camera, laid.middle_px, w.real, w.imag) for w in webs])
    inside = ((places > 8) & (places < np.array(SIZE) - 8)).all(axis=1)
    nodes, places = np.array(at)[inside], places[inside]
    lens = camera.lens
    channels = [
        places
        + rng.normal(0.0, noise_px, places.shape)
        + (np.stack(lens.colour_shift(c, *places.T), axis=1) if lens else 0.0)
        for c in (lens.red if lens else None, LateralColour(), lens.blue if lens else None)
    ]
    return SeenGrid("drawn", SIZE, nodes, channels[1], channels[0], channels[2], 41.5, dot_px, 1.0)


def map_error_um(found: Camera, true: Camera) -> np.ndarray:
    """Error of the map from frame to web, each less the mean: places x 2 um."""
    rows, cols = (g.ravel() for g in np.meshgrid(np.linspace(0, 479, 9), np.linspace(0, 639, 11)))
    off = np.array(found.to_web(rows, cols)) - np.array(true.to_web(rows, cols))
    return np.asarray(1000.0 * (off - off.mean(axis=1, keepdims=True)).T)
