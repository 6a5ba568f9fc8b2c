"""Visible: how much of each drawn mark an eye that knows it is there could see."""

from dataclasses import dataclass, replace

import numpy as np

from bench.families.case import Case
from bench.families.drawing import Drawing, margin_px, without_chance
from regscan.simulator.defects import Halftone
from regscan.simulator.layers import Layer
from regscan.simulator.printed import Window

# A pixel shows an ink where the ink changes it by this share of what it does on bare
# substrate, and by this many sd of the noise.
SHOWS_SHARE = 0.25
SHOWS_NOISE = 2.0


@dataclass(frozen=True, slots=True)
class Sight:
    """share   of the mark's own area, as designed, in which its ink can be seen.
    whole   the design lies within the frame.
    """

    share: float
    whole: bool


def sights(case: Case) -> list[Sight]:
    """One per drawn mark, in the order of the truth's marks. Overprint, missing ink, the
    frame's border and a weak ink all count against it."""
    drawing = Drawing(case, without_chance(case.scene.look))
    screens = tuple(d for d in case.scene.look.defects if isinstance(d, Halftone))
    plain = Drawing(case, replace(without_chance(case.scene.look), defects=screens))
    bare = {layer.number: layer for layer in plain.layers}
    eye = _Eye(drawing, plain, drawing.values(drawing.layers), margin_px(case))
    return [eye.sight(bare[number]) for number in range(len(drawing.truth.marks))]


@dataclass(frozen=True)
class _Eye:
    """The drawing, the same with unflawed marks, and all of it as pixel values."""

    drawing: Drawing
    plain: Drawing
    seen: np.ndarray
    around: float

    def sight(self, mark: Layer) -> Sight:
        """Of one mark, given unflawed."""
        window = self.plain.window(mark, self.around)
        if window is None:
            return Sight(0.0, False)
        on_paper = self._alone(mark, window)
        inked = on_paper > 0.5 * float(on_paper.max())
        others = [other for other in self.drawing.layers if other.number != mark.number]
        without = self.drawing.values(others, window)
        change = _size(self.seen[window.slices] - without)
        noise = float(np.sqrt(self.drawing.variance(without).max()))
        shows = (change > np.maximum(SHOWS_SHARE * on_paper, SHOWS_NOISE * noise)) & inked
        whole = _whole(mark, self.drawing)
        area = int(inked.sum()) if whole else self._area(mark)
        return Sight(float(shows.sum()) / max(area, 1), whole)

    def _alone(self, mark: Layer, window: Window) -> np.ndarray:
        """How much the mark alone changes bare substrate."""
        return _size(self.plain.values([mark], window) - self.plain.values([], window))

    def _area(self, mark: Layer) -> int:
        """Pixels of a mark that is not whole, counted in the frame's middle."""
        rows, cols = self.plain.size
        middle = replace(mark, row_px=rows / 2.0, col_px=cols / 2.0)
        window = self.plain.window(middle, self.around)
        assert window is not None
        alone = self._alone(middle, window)
        return int((alone > 0.5 * alone.max()).sum())


def _size(change: np.ndarray) -> np.ndarray:
    """Of a change of pixel values: over all channels."""
    return np.asarray(np.abs(change) if change.ndim == 2 else np.linalg.norm(change, axis=2))


def _whole(layer: Layer, drawing: Drawing) -> bool:
    along, across = layer.outline.half_box_mm
    corners = [drawing.scene.camera.step_to_pixels(sign * along, across) for sign in (1.0, -1.0)]
    for place, reach, length in (
        (layer.row_px, max(abs(row) for row, _ in corners), drawing.size[0]),
        (layer.col_px, max(abs(col) for _, col in corners), drawing.size[1]),
    ):
        if place - reach < -0.5 or place + reach > length - 0.5:
            return False
    return True
