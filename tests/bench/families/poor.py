"""Families of poor frames and poor print: separated marks, one thing wrong at a time."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from bench.families.case import Case, Draw, Family
from bench.families.layouts import SIX_SHAPES, rows_of
from bench.families.scenery import SIZE, case_of, usual_look
from bench.families.stock import job_of
from regscan.simulator.defects import Defect, Double, HalfPrint, Hickey, Slur
from regscan.simulator.look import Jpeg, Look, Specks

_TOLD = job_of(rows_of(SIX_SHAPES))
_INKS = tuple(SIX_SHAPES)


def _with(change: Callable[[Look, Draw], Look]) -> Callable[[Draw], Case]:
    def make(draw: Draw) -> Case:
        return case_of(draw, _TOLD, look=change(usual_look(draw.any), draw))

    return make


def _lens(look: Look, **values: Any) -> Look:
    return replace(look, lens=replace(look.lens, **values))


def _sensor(look: Look, **values: Any) -> Look:
    return replace(look, sensor=replace(look.sensor, **values))


def _defocus(look: Look, draw: Draw) -> Look:
    return _lens(look, blur_px=float(draw.any.uniform(2.5, 4.5)))


def _motion(draw: Draw) -> Case:
    """The strobe is as long as makes the wanted smear at 150 m/min."""
    case = case_of(draw, _TOLD, look=usual_look(draw.any))
    scene = case.scene
    smear_um = float(draw.any.uniform(3.0, 8.0)) * scene.camera.mm_per_px * 1000.0
    look = _lens(scene.look, strobe_us=smear_um / (150.0 / 60.0))
    shot = replace(scene.shot, speed_m_min=150.0)
    return replace(case, scene=replace(scene, look=look, shot=shot))


def _low_light(look: Look, draw: Draw) -> Look:
    exposure = float(draw.any.uniform(0.08, 0.2))
    return _sensor(look, exposure=exposure, noise_grey=2.5, full_well=8000.0)


def _gradient(look: Look, draw: Draw) -> Look:
    slope, corner = draw.any.uniform(80.0, 130.0), draw.any.uniform(10.0, 40.0)
    # Exposed so that the bright end just stays within full scale.
    look = _sensor(look, exposure=0.42)
    return _lens(look, slope_grey=float(slope), vignette_grey=float(corner))


def _jpeg(look: Look, draw: Draw) -> Look:
    return _sensor(look, jpeg=Jpeg(70, halved_chroma=draw.number % 2 == 0))


def _pinholes(look: Look, draw: Draw) -> Look:
    holes = {
        "pinholes_per_mm2": float(draw.any.uniform(15.0, 50.0)),
        "pinhole_um": float(draw.any.uniform(20.0, 40.0)),
    }
    return replace(look, print=replace(look.print, **holes))


def _specks(look: Look, draw: Draw) -> Look:
    return replace(look, specks=Specks(120, float(draw.any.uniform(60.0, 130.0)), _INKS))


def _hickey(ink: str, rng: np.random.Generator) -> list[Defect]:
    found: list[Defect] = []
    for _ in range(int(rng.integers(0, 3))):
        along, across = rng.uniform(-0.25, 0.25, 2)
        spot, halo = rng.uniform(50.0, 110.0), rng.uniform(35.0, 70.0)
        found.append(Hickey(ink, float(along), float(across), float(spot), float(halo)))
    return found


def _half(ink: str, rng: np.random.Generator) -> list[Defect]:
    if rng.random() < 0.5:
        return []
    toward, at = rng.uniform(0.0, 360.0), rng.uniform(0.0, 0.2)
    return [HalfPrint(ink, float(toward), float(at), float(rng.uniform(0.02, 0.12)))]


def _double(ink: str, rng: np.random.Generator) -> list[Defect]:
    if rng.random() < 0.5:
        return []
    along = rng.choice([-1.0, 1.0]) * rng.uniform(0.06, 0.2)
    strength = float(rng.uniform(0.25, 0.6))
    return [Double(ink, float(along), float(rng.uniform(-0.02, 0.02)), strength)]


def _slur(ink: str, rng: np.random.Generator) -> list[Defect]:
    return [Slur(ink, float(rng.uniform(20.0, 80.0)), float(rng.uniform(0.5, 0.9)))]


def _struck(
    defects: Callable[[str, np.random.Generator], list[Defect]],
) -> Callable[[Look, Draw], Look]:
    def change(look: Look, draw: Draw) -> Look:
        found = [defect for ink in _INKS for defect in defects(ink, draw.any)]
        return replace(look, defects=tuple(found))

    return change


def _border(draw: Draw) -> Case:
    """The set lies so far to one side that its outer row or column is cut, more or less."""
    case = case_of(draw, _TOLD, look=usual_look(draw.any))
    origin = case.scene.shot.origin_px
    assert origin is not None
    scene = case.scene
    places = np.array(
        [
            scene.camera.step_to_pixels(
                mark.circumferential_mm + case.offsets[mark.ink][0],
                mark.lateral_mm + case.offsets[mark.ink][1],
            )
            for mark in _TOLD.marks
        ]
    )
    axis, far = draw.number % 2, draw.number % 4 >= 2
    cut = float(draw.any.uniform(-0.6, 0.6)) * 0.3 / scene.camera.mm_per_px
    moved = list(origin)
    if far:
        moved[axis] = SIZE[axis] - 0.5 - cut - places[:, axis].max()
    else:
        moved[axis] = -0.5 + cut - places[:, axis].min()
    shot = replace(scene.shot, origin_px=(float(moved[0]), float(moved[1])))
    return replace(case, scene=replace(scene, shot=shot))


def _family(name: str, says: str, make: Callable[[Draw], Case]) -> Family:
    return Family(name, "poor", says, make)


FAMILIES = (
    _family("defocus", "blur of 2.5-4.5 px, one sigma", _with(_defocus)),
    _family("motion blur", "3-8 px of smear along the web", _motion),
    _family("low light", "exposure 8-20 %, noise 2.5 of 255 and shot noise", _with(_low_light)),
    _family("strong gradient", "light falls by 80-130 grey levels across", _with(_gradient)),
    _family("JPEG 70", "quality 70, chroma halved in every second frame", _with(_jpeg)),
    _family("pinholes", "15-50 per mm2 of 20-40 um", _with(_pinholes)),
    _family(
        "hickeys", "up to two per mark, spot 50-110 um in a bare ring", _with(_struck(_hickey))
    ),
    _family("half-printed", "every second mark loses up to half of its ink", _with(_struck(_half))),
    _family(
        "doubled", "every second mark has a weaker copy 60-200 um off", _with(_struck(_double))
    ),
    _family("slur", "trailing edges dragged out by 20-80 um", _with(_struck(_slur))),
    _family("specks", "120 specks of the marks' inks, 60-130 um, anywhere", _with(_specks)),
    _family("cut by the border", "the outer marks lie across the frame's border", _border),
)
