"""What measuring makes of an odd press."""

import math
import traceback
from dataclasses import dataclass

from bench.families.limits import WRONG_MM
from bench.odd.press import odd_press
from regscan.marks.finder import MarkFinder
from regscan.marks.mark import Mark
from regscan.simulator.draw import draw_frame
from regscan.simulator.truth import TrueMark

FAR_SD, FAR_PX = 5.0, 0.1


@dataclass(frozen=True, slots=True)
class Outcome:
    """One press.

    statuses   of its marks.   fell   what measuring raised, "" for nothing.
    wrong      ok marks that are off by more than 50 um, told in words.
    far        those that are off by more than five of their sd and a tenth of a pixel.
    within     (values of ok marks within 1.96 sd, all of them).
    """

    number: int
    layout: str
    statuses: tuple[str, ...]
    fell: str = ""
    wrong: tuple[str, ...] = ()
    far: tuple[str, ...] = ()
    within: tuple[int, int] = (0, 0)


def outcome(number: int) -> Outcome:
    """Draw press `number`, measure one frame of it, and hold every sure mark against its truth."""
    layout, case = odd_press(number)
    scene = case.scene
    frame, truth = draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)
    try:
        marks = MarkFinder(case.told, scene.camera).measure(frame)
    except Exception:  # whatever it is, it is what this looks for
        return Outcome(number, layout, (), traceback.format_exc())
    sure = [(mark, truth.mark(mark.ink)) for mark in marks if mark.status == "ok"]
    pulls = [pull for mark, true in sure for pull in _pulls(mark, true)]
    return Outcome(
        number,
        layout,
        tuple(mark.status for mark in marks),
        wrong=tuple(
            _said(*one) for one in sure if _off_px(*one) * scene.camera.mm_per_px > WRONG_MM
        ),
        far=tuple(
            _said(*one) for one in sure if max(_pulls(*one)) > FAR_SD and _off_px(*one) > FAR_PX
        ),
        within=(sum(pull < 1.96 for pull in pulls), len(pulls)),
    )


def _off_px(mark: Mark, true: TrueMark) -> float:
    return max(abs(mark.row_px - true.row_px), abs(mark.col_px - true.col_px))


def _pulls(mark: Mark, true: TrueMark) -> tuple[float, float]:
    """Errors over their sd, without sign."""
    return (
        abs(mark.row_px - true.row_px) / math.sqrt(mark.row_var),
        abs(mark.col_px - true.col_px) / math.sqrt(mark.col_var),
    )


def _said(mark: Mark, true: TrueMark) -> str:
    return f"{mark.ink} {_off_px(mark, true):.2f} px off, {max(_pulls(mark, true)):.0f} sd"
