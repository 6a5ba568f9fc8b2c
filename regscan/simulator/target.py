"""Target: a frame of a dot grid or a chessboard on the web, seen through the camera's lens.

Every channel is drawn for itself: each fine square is carried back through the lens to
the web and shaded by how much of it is ink there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from regscan.camera.camera import Camera
from regscan.camera.lens import LateralColour
from regscan.recording.frame import Frame, FrameInfo
from regscan.simulator.bent import looked_up, seen_at, web_places
from regscan.simulator.chance import stream
from regscan.simulator.cover import share_inside
from regscan.simulator.illumination import shading
from regscan.simulator.lens import margin_px, through_lens
from regscan.simulator.look import Look, Shot
from regscan.simulator.sensor import to_pixels

FINE = 4
_STRIP_PX = 48
_NEAR_PX = 6.0

CLEAN_LOOK = Look()
CLEAN_SHOT = Shot()


@dataclass(frozen=True, slots=True)
class Target:
    """What lies on the web. Its lines run along the web's axes before turning.

    rows, cols      nodes (dots, or corners of the board), about the target's own middle.
    dot_mm          diameter of a dot.
    turn_deg        from + circumferential toward + lateral.
    missing         share of the dots that are not there.
    wander_um       sd of each dot's own place, on either axis.
    dust            specks strewn over the frame.
    paper, ink      their light, 0..1.
    """

    pitch_mm: float
    rows: int
    cols: int
    kind: Literal["dots", "chessboard"] = "dots"
    dot_mm: float = 0.0
    turn_deg: float = 0.0
    missing: float = 0.0
    wander_um: float = 0.0
    dust: int = 0
    dust_um: float = 40.0
    paper: float = 0.8
    ink: float = 0.04


@dataclass(frozen=True, slots=True)
class TargetTruth:
    """nodes  N x 2, number along each line.   places  per channel N x 2 (row, col) px: R, G, B."""

    nodes: np.ndarray
    places: tuple[np.ndarray, np.ndarray, np.ndarray]


def draw_target(
    target: Target, camera: Camera, look: Look = CLEAN_LOOK, shot: Shot = CLEAN_SHOT
) -> tuple[Frame, TargetTruth]:
    """One frame of the target, its middle at shot.origin_px (default: mid-frame); seeded."""
    scene = _Scene(target, camera, look, shot)
    light = np.empty((shot.rows, shot.cols, 3), np.float32)
    for top in range(0, shot.rows, _STRIP_PX):
        bottom = min(top + _STRIP_PX, shot.rows)
        channels = [scene.strip(top, bottom, colour) for colour in scene.colours()]
        light[top:bottom] = np.stack([channels[k % len(channels)] for k in range(3)], axis=-1)
    light *= np.float32(look.sensor.exposure)
    light *= shading(target.paper, camera, look, shot)[..., None]
    info = FrameInfo(shot.name, shot.index, shot.time_s, camera=shot.camera)
    return Frame(info, to_pixels(light, camera, look.sensor, shot.seed)), scene.truth()


class _Scene:
    """The target as laid on the web: everything random is drawn once."""

    def __init__(self, target: Target, camera: Camera, look: Look, shot: Shot) -> None:
        self.target, self.camera, self.look, self.shot = target, camera, look, shot
        self.origin = shot.origin_px or ((shot.rows - 1) / 2.0, (shot.cols - 1) / 2.0)
        rng = stream(shot.seed, "pinholes")
        size = target.rows, target.cols
        self.there = rng.random(size) >= target.missing
        by = rng.standard_normal((2, *size)) * target.wander_um / 1000.0 / target.pitch_mm
        self.wander = by[0] + 1j * by[1]
        rng = stream(shot.seed, "specks")
        self.specks = rng.uniform(0, shot.rows, target.dust) + 1j * rng.uniform(
            0, shot.cols, target.dust
        )
        self.speck_px = (
            target.dust_um / 2000.0 / camera.mm_per_px * rng.lognormal(0.0, 0.4, target.dust)
        )

    def colours(self) -> Iterator[LateralColour | None]:
        """What to draw: one picture for all channels, or one for each."""
        lens = self.camera.lens
        yield from (lens.red, None, lens.blue) if lens and lens.parts_colours else (None,)

    def strip(self, top: int, bottom: int, colour: LateralColour | None) -> np.ndarray:
        """rows x cols light of whole pixel rows, after the lens, in one channel."""
        halo = int(np.ceil(margin_px(self.look.lens, self.camera, self.shot)))
        rows, cols = np.arange(top - halo, bottom + halo), np.arange(-halo, self.shot.cols + halo)
        seen = rows[:, None] + 1j * cols[None]
        if colour is not None and self.camera.lens is not None:
            seen = looked_up(self.camera.lens, colour, seen)
        share = self._ink(_finer(self._units(seen)), _finer(seen))
        light = self.target.paper + share * (self.target.ink - self.target.paper)
        fine = light.astype(np.float32)[..., None]
        pixels = through_lens(fine, self.look.lens, (0.0, 0.0), FINE)[..., 0]
        return pixels[halo:-halo, halo:-halo]

    def _units(self, seen: np.ndarray) -> np.ndarray:
        """Places on the target, in pitches from its first node, line + 1j number along it."""
        origin = np.array(complex(*self.origin))
        off = web_places(self.camera, seen) - web_places(self.camera, origin)
        turned = off * np.exp(-1j * np.radians(self.target.turn_deg)) / self.target.pitch_mm
        return np.asarray(turned + complex(self.target.rows - 1, self.target.cols - 1) / 2.0)

    def _ink(self, at: np.ndarray, seen: np.ndarray) -> np.ndarray:
        if self.target.kind == "chessboard":
            share = self._squares(at)
        else:
            share = share_inside(self._from_dot(at))
        for place, radius in zip(self.specks, self.speck_px, strict=True):
            near = np.ix_(*(np.abs(part) < radius + _NEAR_PX for part in _apart(seen, place)))
            if min(seen[near].shape) < 2:
                continue  # in another strip
            share[near] = np.maximum(share[near], share_inside(np.abs(seen[near] - place) - radius))
        return share

    def _from_dot(self, at: np.ndarray) -> np.ndarray:
        """Distance outside the nearest dot, in pitches."""
        target = self.target
        line = np.clip(np.rint(at.real), 0, target.rows - 1).astype(int)
        number = np.clip(np.rint(at.imag), 0, target.cols - 1).astype(int)
        off = np.abs(at - line - 1j * number - self.wander[line, number])
        # A missing dot's place is as far off as its borders are, so that no step is drawn.
        off[~self.there[line, number]] = 0.5
        return np.asarray(off - target.dot_mm / 2.0 / target.pitch_mm)

    def _squares(self, at: np.ndarray) -> np.ndarray:
        """Ink of a chessboard whose inner corners are the nodes."""
        target, dark = self.target, []
        for part, count in ((at.real, target.rows), (at.imag, target.cols)):
            steep = np.hypot(*np.gradient(part))
            # The nearest line between squares, and which side is odd.
            line = np.rint(part)
            odd = np.clip(0.5 + (part - line) / steep, 0.0, 1.0)
            dark.append(np.where(line % 2 == 0, odd, 1.0 - odd))
            beyond = np.abs(part - (count - 1) / 2.0) - (count + 1) / 2.0
            dark.append(np.clip(0.5 + beyond / steep, 0.0, 1.0))
        ink = dark[0] * dark[2] + (1.0 - dark[0]) * (1.0 - dark[2])
        return np.asarray(ink * (1.0 - dark[1]) * (1.0 - dark[3]))

    def truth(self) -> TargetTruth:
        """Where every node that is there is seen; may be outside the frame."""
        target = self.target
        there = self.there if target.kind == "dots" else np.ones_like(self.there)
        nodes = np.argwhere(there)
        wander = self.wander[there] if target.kind == "dots" else 0.0
        middle = complex(target.rows - 1, target.cols - 1) / 2.0
        on_web = (nodes[:, 0] + 1j * nodes[:, 1] + wander - middle) * target.pitch_mm
        on_web = on_web * np.exp(1j * np.radians(target.turn_deg))
        green = np.array([seen_at(self.camera, self.origin, w.real, w.imag) for w in on_web])
        lens = self.camera.lens
        if lens is None:
            return TargetTruth(nodes, (green, green, green))
        red, blue = (
            green + np.stack(lens.colour_shift(c, green[:, 0], green[:, 1]), axis=1)
            for c in (lens.red, lens.blue)
        )
        return TargetTruth(nodes, (red, green, blue))


def _finer(places: np.ndarray) -> np.ndarray:
    """Values at pixel centres to FINE x FINE squares of each pixel: straight within a pixel."""
    down, right = np.gradient(places)
    steps = (np.arange(FINE) + 0.5) / FINE - 0.5
    fine = (
        places[:, None, :, None]
        + down[:, None, :, None] * steps[:, None, None]
        + right[:, None, :, None] * steps
    )
    return np.asarray(fine.reshape(places.shape[0] * FINE, places.shape[1] * FINE))


def _apart(seen: np.ndarray, place: complex) -> tuple[np.ndarray, np.ndarray]:
    return seen[:, seen.shape[1] // 2].real - place.real, seen[seen.shape[0] // 2].imag - place.imag
