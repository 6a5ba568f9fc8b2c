"""One odd press: everything about it drawn by chance, from what a press may have."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from bench.families import stock
from bench.families.case import Case, Offsets
from regscan.camera.camera import Camera
from regscan.job.job import Job
from regscan.job.layout import (
    Bar,
    Cross,
    Diamond,
    Disc,
    MarkDesign,
    Polygon,
    Ring,
    Shape,
    Square,
    Triangle,
)
from regscan.simulator.look import Jpeg, Lens, Look, Patch, Print, Sensor, Shot, Specks, Streak
from regscan.simulator.printed import Scene

Rng = np.random.Generator

MOST_INKS = 12
SUBSTRATES = (stock.PAPER, stock.PAPER, stock.KRAFT, stock.FOIL, stock.DARK_BACKING)
SIZES_MM = (0.3, 0.5, 0.7, 1.0, 1.5, 2.2)
_TRAVELS = {"up": "across", "down": "across", "left": "along", "right": "along"}
_SIDES = {"across": ("left", "right"), "along": ("up", "down")}


def odd_press(number: int) -> tuple[str, Case]:
    """(how its marks are laid out, the case), the same every time."""
    rng = np.random.default_rng([number, 20])
    layout = str(rng.choice(list(_LAYOUTS)))
    inks = [str(ink) for ink in rng.permutation(list(stock.INKS))[: rng.integers(1, MOST_INKS + 1)]]
    told = _job(rng, inks, _LAYOUTS[layout](rng, len(inks)))
    camera, mono = _camera(rng)
    look = _look(rng, told, camera, mono=mono)
    size = int(rng.choice([200, 480, 800, 1200]))
    shot = Shot(size, int(size * rng.uniform(0.7, 1.4)), seed=number)
    printed = stock.as_printed(told, rng)
    return layout, Case(told, Scene(printed, camera, look, shot), _offsets(rng, told))


Places = Sequence[tuple[float, float]]


def _in_rows(rng: Rng, count: int) -> Places:
    pitch, columns = float(rng.uniform(0.9, 2.5)), int(rng.integers(1, 5))
    return [(pitch * (k // columns), pitch * (k % columns)) for k in range(count)]


def _at_one_place(_: Rng, count: int) -> Places:
    return [(0.0, 0.0)] * count


def _in_piles(_: Rng, count: int) -> Places:
    return [(2.5 * (k // 4), 0.0) for k in range(count)]


def _anywhere(rng: Rng, count: int) -> Places:
    return [(float(along), float(across)) for along, across in rng.uniform(0.0, 4.0, (count, 2))]


_LAYOUTS: dict[str, Callable[[Rng, int], Places]] = {
    "rows": _in_rows,
    "one place": _at_one_place,
    "piles of four": _in_piles,
    "anywhere": _anywhere,
}


def _job(rng: Rng, inks: Sequence[str], places: Places) -> Job:
    alike = _shape(rng) if rng.random() < 0.3 else None
    marks = [
        MarkDesign(ink, alike or _shape(rng), *place)
        for ink, place in zip(inks, places, strict=True)
    ]
    substrate = SUBSTRATES[int(rng.integers(len(SUBSTRATES)))]
    film = substrate == stock.DARK_BACKING
    opaque = [ink for ink in inks if film or ink in ("white", "silver") or rng.random() < 0.1]
    return stock.job_of(marks, substrate=substrate, reference=inks[0], opaque=opaque)


def _shape(rng: Rng) -> Shape:
    size = float(rng.choice(SIZES_MM) * rng.uniform(0.8, 1.2))
    turn = float(rng.choice([0.0, 0.0, 45.0, rng.uniform(0.0, 180.0)]))
    low, high = float(rng.uniform(0.12, 0.4)), float(rng.uniform(0.4, 0.8))
    shapes: list[Shape] = [
        Disc(size),
        Ring(size, size * high),
        Cross(size, size * low, turn),
        Square(size, turn),
        Diamond(size, size * float(rng.uniform(0.6, 1.4)), turn),
        Bar(size, size * low, turn),
        Triangle(size, turn),
        _polygon(rng, size, turn),
    ]
    return shapes[int(rng.integers(len(shapes)))]


def _polygon(rng: Rng, size_mm: float, turn_deg: float) -> Polygon:
    """Corners all round, no two close to each other."""
    count = int(rng.integers(3, 7))
    turns = 2.0 * np.pi * (np.arange(count) + rng.uniform(-0.2, 0.2, count)) / count
    reach = size_mm / 2.0 * rng.uniform(0.6, 1.0, count)
    corners = np.stack([reach * np.cos(turns), reach * np.sin(turns)], axis=1)
    return Polygon(tuple((row, col) for row, col in corners.tolist()), turn_deg)


def _camera(rng: Rng) -> tuple[Camera, bool]:
    """A camera, and whether it has one channel."""
    size = float(rng.uniform(0.008, 0.025))
    travel = str(rng.choice(list(_TRAVELS)))
    side = str(rng.choice(_SIDES[_TRAVELS[travel]]))
    turned = float(rng.normal(0.0, 0.7)) if rng.random() < 0.4 else 0.0
    camera = Camera(size, size, travel, side, turned)  # type: ignore[arg-type]
    if rng.random() < 0.3:
        camera = replace(camera, col_mm_per_px=size * float(rng.uniform(0.8, 1.25)))
    if rng.random() < 0.3:
        camera = replace(camera, tone="linear")
    mono = bool(rng.random() < 0.12)
    if not mono and rng.random() < 0.15:
        camera = replace(camera, mosaic=str(rng.choice(["rggb", "bggr", "grbg", "gbrg"])))  # type: ignore[arg-type]
    return camera, mono


def _look(rng: Rng, job: Job, camera: Camera, *, mono: bool) -> Look:
    compressed = not camera.mosaic and rng.random() < 0.12
    jpeg = Jpeg(int(rng.integers(60, 96))) if compressed else None
    shining = job.substrate.values == stock.FOIL and rng.random() < 0.5
    return Look(
        Print(
            roughness_um=float(rng.choice([0.0, 3.0, 6.0])),
            gain_um=float(rng.choice([0.0, 0.0, 15.0, -10.0])),
            rim=float(rng.choice([0.0, 0.0, 0.4])),
            pinholes_per_mm2=float(rng.choice([0.0, 0.0, 0.0, 10.0])),
        ),
        Lens(
            blur_px=float(rng.uniform(0.4, 2.5)),
            slope_grey=float(rng.choice([0.0, 0.0, 40.0])),
            vignette_grey=float(rng.choice([0.0, 0.0, 30.0])),
        ),
        Sensor(
            exposure=float(rng.uniform(0.4, 0.95)),
            noise_grey=float(rng.uniform(0.0, 4.0)),
            full_well=float(rng.choice([0.0, 8000.0])),
            bits=8 if compressed or rng.random() < 0.85 else 16,
            mono=mono,
            jpeg=jpeg,
        ),
        patches=tuple(_patch(rng, job) for _ in range(int(rng.integers(1, 5))))
        if rng.random() < 0.3
        else (),
        specks=Specks(int(rng.choice([0, 0, 0, 20]))),
        grain_grey=float(rng.choice([0.0, 0.0, 1.5])),
        streaks=(Streak(0.5),) if shining else (),
    )


def _patch(rng: Rng, job: Job) -> Patch:
    ink = job.inks[int(rng.integers(len(job.inks)))].name
    along, across = (float(place) for place in rng.uniform(-2.0, 4.0, 2))
    length, width = (float(side) for side in rng.uniform(0.2, 2.5, 2))
    return Patch(ink, along, across, length, width, float(rng.uniform(-3.0, 3.0)))


def _offsets(rng: Rng, job: Job) -> Offsets:
    most = float(rng.choice([0.03, 0.15, 0.5, 2.0]))
    return stock.offsets_within(job, rng, most)
