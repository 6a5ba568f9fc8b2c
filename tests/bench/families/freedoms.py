"""Freedoms: what the ideal fit may change of one mark, each as a step on its layer."""

from collections.abc import Callable
from dataclasses import replace

from regscan.camera.camera import Camera
from regscan.simulator.defects import Defect, Double, Slur
from regscan.simulator.halftone import Screened
from regscan.simulator.layers import Layer

Freedom = Callable[[Layer, float], Layer]  # by px, or by a share where it is a strength


def freedoms_of(layer: Layer, camera: Camera, *, told: bool) -> list[Freedom]:
    """Row and column first; then where a screen lies, which nobody can be told.

    told   True where how far and how strong a mark is doubled or slurred is known too.
    """
    found: list[Freedom] = [
        lambda mark, by: replace(mark, row_px=mark.row_px + by),
        lambda mark, by: replace(mark, col_px=mark.col_px + by),
    ]
    if isinstance(layer.outline, Screened):
        found += [_screen(camera, axis) for axis in (0, 1)]
    if not told:
        for number, defect in enumerate(layer.defects):
            found += [_changed(number, change) for change in _changes(defect, camera)]
    return found


def _screen(camera: Camera, axis: int) -> Freedom:
    def moved(mark: Layer, by: float) -> Layer:
        outline = mark.outline
        assert isinstance(outline, Screened)
        phase = list(outline.screen.phase)
        phase[axis] += by * camera.mm_per_px * outline.screen.lines_per_cm / 10.0
        screen = replace(outline.screen, phase=(phase[0], phase[1]))
        return replace(mark, outline=Screened(outline.outline, screen))

    return moved


Change = Callable[[Defect, float], Defect]


def _changes(defect: Defect, camera: Camera) -> list[Change]:
    size = camera.mm_per_px
    if isinstance(defect, Slur):
        return [_by("length_um", 1000.0 * size, 1.0), _by("strength", 1.0, 0.01)]
    if isinstance(defect, Double):
        places = [_by("circumferential_mm", size), _by("lateral_mm", size)]
        return [*places, _by("strength", 1.0, 0.01)]
    return []


def _by(name: str, unit: float, least: float | None = None) -> Change:
    def changed(defect: Defect, by: float) -> Defect:
        value = getattr(defect, name) + by * unit
        return replace(defect, **{name: value if least is None else max(value, least)})

    return changed


def _changed(number: int, change: Change) -> Freedom:
    def moved(mark: Layer, by: float) -> Layer:
        defects = list(mark.defects)
        defects[number] = change(defects[number], by)
        return replace(mark, defects=tuple(defects))

    return moved
