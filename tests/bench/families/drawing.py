"""Drawing: windows of a case without noise, as pixel values, for those who know the truth."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bench.families.case import Case
from regscan.simulator.draw import true_places
from regscan.simulator.illumination import illumination
from regscan.simulator.layers import Layer, all_layers
from regscan.simulator.look import Look, Specks
from regscan.simulator.printed import Scene, Window, printed_light
from regscan.simulator.sensor import decoded, encoded, gathered
from regscan.simulator.truth import FrameTruth


class Drawing:
    """A case drawn again and again with layers moved or left out.

    look     of what is drawn; the case's own unless given.
    layers   all pieces of ink; the marks' are numbered as in `truth.marks`.
    """

    def __init__(self, case: Case, look: Look | None = None) -> None:
        scene = case.scene if look is None else replace(case.scene, look=look)
        self.scene: Scene = scene
        self.truth: FrameTruth = true_places(scene.job, scene.camera, case.offsets, scene.shot)
        self.layers = all_layers(scene.job, scene.camera, self.truth, scene.look, scene.shot)
        even = replace(scene.look, grain_grey=0.0)
        self._lit = illumination(scene.job, scene.camera, even, scene.shot)
        self.size = scene.shot.rows, scene.shot.cols

    def values(self, layers: Sequence[Layer], window: Window | None = None) -> np.ndarray:
        """Pixel values 0..1: rows x cols x 3, or rows x cols for mono and mosaic."""
        window = window or Window(0, 0, *self.size)
        light = printed_light(self.scene, layers, window)
        light *= np.float32(self.scene.look.sensor.exposure)
        lit = self._lit if self._lit.size == 1 else self._lit[window.slices]
        light = gathered(light * lit[..., None], self.scene.camera, self.scene.look.sensor)
        return np.clip(encoded(light, self.scene.camera.tone), 0.0, 1.0)

    def variance(self, values: np.ndarray) -> np.ndarray:
        """Of the noise in pixel values of these sizes: sensor, shot noise and rounding."""
        sensor, tone = self.scene.look.sensor, self.scene.camera.tone
        full = 255.0 if sensor.bits == 8 else 65535.0
        noise = np.full(values.shape, (sensor.noise_grey / 255.0) ** 2 + 1.0 / (12.0 * full**2))
        if sensor.full_well > 0.0:
            light = decoded(values, tone)
            slope = 1e-3 / (decoded(values + 1e-3, tone) - light)
            noise += slope**2 * light / sensor.full_well
        return noise

    def window(self, layer: Layer, margin_px: float) -> Window | None:
        """Around one layer as far as the frame goes, its corner even as a mosaic's pattern is;
        None where the layer lies outside."""
        along, across = layer.outline.half_box_mm
        corners = [self.scene.camera.step_to_pixels(sign * along, across) for sign in (1.0, -1.0)]
        rows = max(abs(row) for row, _ in corners) + margin_px
        cols = max(abs(col) for _, col in corners) + margin_px
        return self.clipped(
            layer.row_px - rows, layer.col_px - cols, layer.row_px + rows, layer.col_px + cols
        )

    def clipped(self, top: float, left: float, bottom: float, right: float) -> Window | None:
        """The window of these bounds as far as it lies in the frame."""
        low = [max(2 * int(np.floor(v / 2.0)), 0) for v in (top, left)]
        high = [
            min(int(np.ceil(v)) + 1, length)
            for v, length in zip((bottom, right), self.size, strict=True)
        ]
        if low[0] >= high[0] or low[1] >= high[1]:
            return None
        return Window(low[0], low[1], high[0], high[1])


def margin_px(case: Case) -> float:
    """How far around an outline its edge shows: blur, smear, gain, defects."""
    scene = case.scene
    look, size = scene.look, scene.camera.mm_per_px
    smear_um = (scene.shot.speed_m_min or 0.0) / 60.0 * look.lens.strobe_us
    reach = max((defect.reach_mm for defect in look.defects), default=0.0)
    around_mm = reach + (look.print.gain_um + smear_um / 2.0) / 1000.0
    return 3.5 * look.lens.blur_px + 3.0 + around_mm / size


def without_chance(look: Look) -> Look:
    """The look with nothing random printed: even edges, no holes, no specks, no grain."""
    print_ = replace(look.print, roughness_um=0.0, pinholes_per_mm2=0.0)
    return replace(look, print=print_, specks=Specks(), grain_grey=0.0)
