"""The web across: the idealised string web, y_i following y_(i-1) over the span between.

    d y_i/dx = (y_(i-1) - y_i)/L + theta_i + d z_i/dx      theta drum skew, z its side shift

(Shelton and Reid 1971, for the subject; the form is common textbook knowledge [M].)
A beam web of a short, stiff span shifts less for a skewed drum (nearer 2/3 of it) [M].
"""

import numpy as np

from regscan.simulator.press.inputs import WebInputs
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.strain import Solver


def web_side(machine: Machine, inputs: WebInputs, solver: Solver) -> np.ndarray:
    """Where the web runs at each station, um toward the drive side; stations x places.

    At station 1 it runs where the guide put it.
    """
    side = np.empty_like(inputs.shift_um)
    side[0] = inputs.side_um
    for i in range(1, machine.stations):
        length, shift = float(machine.span_m[i]), inputs.shift_um[i]
        drive = side[i - 1] + length * inputs.roller_urad[i] - shift
        # Settled at the first point.
        side[i] = solver.settle(drive, length, drive[0]) + shift
    return side
