"""Fit: one lens and plane to the grids of all frames; no more numbers than the nodes pay for."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regscan.camera.camera import Camera
from regscan.instrument.grid.found import GridFit
from regscan.instrument.grid.model import Layout, Terms, facing_of
from regscan.instrument.grid.seen import SeenGrid
from regscan.instrument.grid.solve import STRAYS, Task

# From the plainest lens to one as bent as a wide angle; a step is taken where it pays.
LADDER = (Terms(1), Terms(2), Terms(2, tangential=True), Terms(3, tangential=True, centre=True))
_ASKEW = 1.15  # a plane for each frame must lessen the residual by this factor to be believed
_ASKEW_PX = 0.02
_ROUNDING_PX = 1e-4


def fit_grids(grids: Sequence[SeenGrid], pitch_mm: float, camera: Camera) -> GridFit:
    """The lens and plane that the grids show.

    grids    at least one, all of frames of one size; the first must lie in the web's plane.
    camera   for its web_travel and drive_side.
    """
    task = Task(tuple(grids), pitch_mm, facing_of(camera))
    best = _plainest(task)
    last = best
    for terms in LADDER[1:]:
        layout = replace(best.layout, terms=terms)
        if task.count <= layout.size:
            break
        last = task.fit(layout, layout.carried(last.layout, last.vector))
        if _pays(best, last):
            best = last
    task.find_middles(best)
    return task.fit(best.layout, best.vector)


def _plainest(task: Task) -> GridFit:
    """The first rung; with a plane for each frame where they show the grid askew."""
    layout = Layout(task.lens, task.facing, LADDER[0], len(task.grids), one_plane=True)
    together = task.fit(layout)
    if len(task.grids) == 1:
        return together
    alone = task.fit(replace(layout, one_plane=False))
    askew = together.rms_px > _ASKEW * alone.rms_px + _ASKEW_PX
    return alone if askew else together


def _pays(plain: GridFit, bent: GridFit) -> bool:
    """Schwarz's criterion on robust spreads: more numbers must explain more than chance."""
    count = 2 * sum(len(r) for r in plain.residuals)
    costs = [_cost(fit) for fit in (plain, bent)]
    more = bent.layout.size - plain.layout.size
    return bool(count * np.log(costs[0] / costs[1]) > more * np.log(count))


def _cost(fit: GridFit) -> float:
    """Mean of squares, each bounded at the strays' limit."""
    squares = np.concatenate(fit.residuals).ravel() ** 2
    spread = 1.4826 * np.median(np.sqrt(squares))
    return float(np.minimum(squares, (STRAYS * spread) ** 2).mean()) + _ROUNDING_PX**2
