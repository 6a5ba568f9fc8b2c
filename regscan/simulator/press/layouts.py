"""The web in the machine direction, for each of the three metering layouts.

Every station has a lateness: how far toward the unwind the piece of web lies that
passes it, against a web that runs evenly (um). The register of two stations is the
difference of their latenesses, each when that station printed, because a print stays
with its piece of web. With strains in ppm, metres and um:

    lateness[i] - lateness[i-1] = span[i] * mean strain[i] - longer path[i]   (content of a span)
    d lateness/dx of a nip that meters = its surface's lead - strain of the web at it

This is the integrated register equation (docs/how/press_model.md) for any pair of stations [D].
"""

from dataclasses import dataclass

import numpy as np

from regscan.simulator.press.inputs import WebInputs
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.strain import Solver


@dataclass(frozen=True)
class WebState:
    """stations x places along the web.

    late_um       lateness of the web at each station.
    elastic_ppm   strain by tension at each station's nip.
    """

    late_um: np.ndarray
    elastic_ppm: np.ndarray


def web_state(machine: Machine, inputs: WebInputs, solver: Solver) -> WebState:
    """The web under the machine's mix of layouts: their answers, weighted by their shares."""
    shares = machine.metering
    parts = [
        (share, layout(machine, inputs, solver))
        for share, layout in (
            (shares.gripped, gripped),
            (shares.outfeed, outfeed_metered),
            (shares.infeed, infeed_metered),
        )
        if share > 0.0
    ]
    return WebState(
        np.sum([share * state.late_um for share, state in parts], axis=0),
        np.sum([share * state.elastic_ppm for share, state in parts], axis=0),
    )


def gripped(machine: Machine, inputs: WebInputs, solver: Solver) -> WebState:
    """Every drum meters. In a span L * d(mean strain)/dx = strain in - strain out + draw.

    The web reaches station 1 with the strain that the infeed's tension gives it.
    """
    spans, drum, path = machine.span_m, inputs.drum_um, inputs.path_um
    leaving = inputs.incoming_ppm + inputs.free_ppm[0]
    late = np.empty_like(drum)
    elastic = np.empty_like(drum)
    late[0] = drum[0] - solver.accumulate(leaving)
    elastic[0] = inputs.incoming_ppm
    for i in range(1, machine.stations):
        stretched = (drum[i] - drum[i - 1] + path[i]) / spans[i]
        bulge = inputs.bulge_um[i] / spans[i]
        # Settled at the first point, but for a lead that grows there (a larger drum).
        growing = solver.growth(drum[i] - drum[i - 1])
        start = leaving[0] + bulge[0] + growing - stretched[0]
        mean = solver.settle(leaving + bulge - stretched, float(spans[i]), start) + stretched
        late[i] = late[i - 1] + spans[i] * mean - path[i]
        leaving = mean - bulge
        elastic[i] = leaving - inputs.free_ppm[i]
    return WebState(late, elastic)


def outfeed_metered(machine: Machine, inputs: WebInputs, solver: Solver) -> WebState:
    """Only the outfeed nip meters. Tension is set at the infeed and grows over dragging idlers."""
    spans = machine.span_m
    elastic = inputs.incoming_ppm + np.cumsum(inputs.drag_ppm, axis=0)
    at_nip = elastic + inputs.free_ppm
    content = spans[:, None] * at_nip + inputs.bulge_um - inputs.path_um
    out = -solver.accumulate(at_nip[-1]) - machine.outfeed_m * at_nip[-1]
    after = np.cumsum(content[:0:-1], axis=0)[::-1]
    return WebState(np.concatenate([out - after, out[None]]), elastic)


def infeed_metered(machine: Machine, inputs: WebInputs, solver: Solver) -> WebState:
    """Only the infeed nip meters. Tension is set at the outfeed; idlers take it off before."""
    spans = machine.span_m
    drag = inputs.drag_ppm
    elastic = inputs.incoming_ppm - (np.cumsum(drag[::-1], axis=0)[::-1] - drag)
    at_nip = elastic + inputs.free_ppm
    content = spans[:, None] * at_nip + inputs.bulge_um - inputs.path_um
    return WebState(np.cumsum(content, axis=0), elastic)
