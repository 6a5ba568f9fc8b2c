"""Ink colours as this camera should see them, and which ink a colour belongs to.

Colours are light as a share of a perfect white in the same light: 0 black, 1
white, one number per camera channel. Where ink covers a pixel in part, light
mixes along the straight line between substrate and ink, so an ink is a line,
not a point: softened edges, screened tints and thin ink films all lie on it.
"""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regscan.camera.camera import Tone
from regscan.job.job import Colour, Job
from regscan.marks.seeing.light import code_slope, srgb_to_light

# CIE XYZ (D50) to linear sRGB with Bradford adaptation to D65, IEC 61966-2-1 primaries.
# From memory of the widely printed table; tests/marks/test_inks.py recomputes it.
_XYZ_D50_TO_RGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
_WHITE_D50 = np.array([0.96422, 1.0, 0.82521])
_STEPS = np.linspace(0.0, 1.1, 23)  # cover along an ink's line, 1 for solid
# Luminance weights of linear sRGB: what a mono camera sees, near enough to order inks by.
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def colour_light(colour: Colour) -> np.ndarray:
    """Linear R, G, B (0..1) of a colour of the job; a taught colour must have values."""
    if colour.values is None:
        raise ValueError("this colour has not been taught yet")
    values = np.array(colour.values, dtype=float)
    if colour.space == "lab":
        values = _lab_to_light(values)
    elif colour.space == "srgb":
        values = srgb_to_light(values / 255.0)
    return np.clip(values, 0.0, 1.0)


def _lab_to_light(lab: np.ndarray) -> np.ndarray:
    level = (lab[0] + 16.0) / 116.0
    cubes = np.array([level + lab[1] / 500.0, level, level - lab[2] / 200.0])
    edge = 6.0 / 29.0
    xyz = np.where(cubes > edge, cubes**3, 3.0 * edge**2 * (cubes - 4.0 / 29.0)) * _WHITE_D50
    return np.asarray(_XYZ_D50_TO_RGB @ xyz)


@dataclass(frozen=True, eq=False)
class Palette:
    """Substrate and ink colours for one camera: channels C is 3, or 1 for mono.

    names      K ink names, in print order.
    substrate  C.   inks  K x C.
    opaque     K bool: this ink hides what lies under it.
    known      colours of overprints that the job gives, by ink bits (bit k for ink k).
    """

    names: tuple[str, ...]
    substrate: np.ndarray
    inks: np.ndarray
    opaque: tuple[bool, ...]
    known: dict[int, np.ndarray]

    @cached_property
    def _value(self) -> tuple[object, ...]:
        known = tuple((bits, self.known[bits].tobytes()) for bits in sorted(self.known))
        return self.names, self.substrate.tobytes(), self.inks.tobytes(), self.opaque, known

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Palette) and self._value == other._value

    def __hash__(self) -> int:
        return hash(self._value)

    @cached_property
    def lines(self) -> np.ndarray:
        """K x steps x C, square-root light along each ink's line, a little beyond solid."""
        spread = (self.inks - self.substrate)[:, None]
        lit = self.substrate + _STEPS[None, :, None] * spread
        return np.asarray(np.sqrt(np.clip(lit, 0.0, None)))

    def ink(self, name: str) -> np.ndarray:
        """The colour of one ink, C."""
        return np.asarray(self.inks[self.names.index(name)])

    def of_inks(self, names: Collection[str]) -> "Palette":
        """The same of some inks alone."""
        kept = [k for k, name in enumerate(self.names) if name in names]
        known = {
            sum(1 << place for place, k in enumerate(kept) if bits >> k & 1): colour
            for bits, colour in self.known.items()
            if not bits & ~sum(1 << k for k in kept)
        }
        return Palette(
            tuple(self.names[k] for k in kept),
            self.substrate,
            self.inks[kept],
            tuple(self.opaque[k] for k in kept),
            known,
        )

    def direction(self, name: str, tone: Tone) -> np.ndarray:
        """Channel weights (C float32, summing to 1 in size) that see one ink best against noise.

        The best weight of a channel is its contrast over its noise variance; camera
        noise is even in codes, so in light it goes with the tone curve's slope, here
        taken at half cover, where the edge's place is read from.
        """
        if (name, tone) not in self._directions:
            ink = self.ink(name)
            half = np.clip((ink + self.substrate) / 2.0, 0.0, 1.0)
            weight = (ink - self.substrate) * code_slope(half, tone) ** 2
            self._directions[name, tone] = np.asarray(weight / np.abs(weight).sum(), np.float32)
        return self._directions[name, tone]

    @cached_property
    def _directions(self) -> dict[tuple[str, Tone], np.ndarray]:
        return {}

    def seen(self, bits: int) -> int:
        """The inks of `bits` that can be seen where they lie on each other: those from the
        last opaque one on, in print order."""
        for k in reversed(range(len(self.inks))):
            if bits >> k & 1 and self.opaque[k]:
                return bits >> k << k
        return bits

    def mix(self, bits: int) -> np.ndarray:
        """The colour C where the inks of `bits` lie on each other: given, else predicted.

        Predicted: a transparent ink passes the same share of light as it does on bare
        substrate, an opaque one is itself. Real overprints only roughly obey (inks trap
        badly on inks); the fit refines them from the frame.
        """
        if bits in self.known:
            return self.known[bits]
        colour = self.substrate
        for k, ink in enumerate(self.inks):
            if bits >> k & 1:
                passed = ink / np.maximum(self.substrate, 1e-3)
                colour = ink if self.opaque[k] else colour * passed
        return np.asarray(colour)


def palette_of(job: Job, names: tuple[str, ...], *, mono: bool) -> Palette:
    """The colours of the named inks (put in print order) and the substrate."""
    names = tuple(s.ink for s in job.press.stations if s.ink in names)
    seen = np.eye(3) if not mono else _LUMINANCE[:, None]
    known = {
        sum(1 << names.index(ink) for ink in over.inks): colour_light(over.colour) @ seen
        for over in job.overprints
        if over.inks <= set(names) and over.colour.values is not None
    }
    return Palette(
        names,
        colour_light(job.substrate) @ seen,
        np.array([colour_light(_colour(job, name)) for name in names]) @ seen,
        tuple(job.ink(name).cover == "opaque" for name in names),
        known,
    )


def _colour(job: Job, name: str) -> Colour:
    colour = job.ink(name).colour
    assert colour is not None, "a measurable ink has a colour; the reader sees to it"
    return colour


def line_distances(
    colours: np.ndarray, palette: Palette, inks: slice = slice(None)
) -> tuple[np.ndarray, np.ndarray]:
    """How far each colour lies from each ink's line, and how far along it.

    colours   N x C.   inks   K of the palette's.
    Returns distance N x K in square-root light (close to how noise and printing
    spread colours, dark or light), and cover N x K: 0 substrate, 1 solid ink.
    """
    seen = np.sqrt(np.clip(colours, 0.0, None))
    lines = palette.lines[inks]
    # |seen - line|^2 without the N x K x steps x C of differences; |seen|^2 moves no minimum.
    products = (seen @ lines.reshape(-1, lines.shape[2]).T).reshape(len(seen), *lines.shape[:2])
    squares = (lines * lines).sum(axis=2) - 2.0 * products
    nearest, least = squares.argmin(axis=2), squares.min(axis=2)
    own = (seen * seen).sum(axis=1)[:, None]
    return np.sqrt(np.maximum(own + least, 0.0)), _STEPS[nearest]
