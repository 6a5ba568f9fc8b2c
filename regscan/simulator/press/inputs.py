"""What acts on the web, summed over all drives: one row per station, along the web."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Self

import numpy as np

from regscan.simulator.press.effects import Drive
from regscan.simulator.press.machine import Machine
from regscan.simulator.press.strain import Solver


@dataclass(frozen=True)
class WebInputs:
    """Arrays stations x places along the web; incoming_ppm and side_um have no stations.

    drum_um    how far each drum's surface has run ahead of the web's even pace.
    bulge_um   how much longer each span's content is than with the strain of its exit nip.
    free_ppm   free strain (shrinkage) of the web at each station.
    drag_ppm   rise of tension strain within each span.
    wide_ppm   free strain across the web at each station.
    """

    incoming_ppm: np.ndarray
    drum_um: np.ndarray
    bulge_um: np.ndarray
    free_ppm: np.ndarray
    drag_ppm: np.ndarray
    path_um: np.ndarray
    wide_ppm: np.ndarray
    side_um: np.ndarray
    roller_urad: np.ndarray
    shift_um: np.ndarray

    @classmethod
    def nothing(cls, stations: int, amount: np.ndarray) -> Self:
        """Zeros that can take up amounts of that shape and type."""
        single = {"incoming_ppm", "side_um"}
        return cls(
            **{
                f.name: np.zeros(
                    amount.shape if f.name in single else (stations, *amount.shape), amount.dtype
                )
                for f in fields(cls)
            }
        )


def inputs_of(
    machine: Machine, drives: Sequence[tuple[Drive, np.ndarray]], solver: Solver
) -> WebInputs:
    """All drives with their amounts along the web (arrays of one length), summed."""
    inputs = WebInputs.nothing(machine.stations, drives[0][1])
    for drive, amount in drives:
        _add(inputs, machine, drive, amount, solver)
    return inputs


def _add(
    inputs: WebInputs, machine: Machine, drive: Drive, amount: np.ndarray, solver: Solver
) -> None:
    rows = machine.rows(drive.station)
    to_share_m = drive.share * machine.span_m[rows, None]
    match drive.kind:
        case "incoming_ppm":
            inputs.incoming_ppm[:] += amount
        case "drum_ppm":
            inputs.drum_um[rows] += solver.accumulate(amount)
        case "drum_um":
            inputs.drum_um[rows] += amount
        case "hot_um":
            inputs.bulge_um[rows] += amount
        case "shrink_ppm":
            inputs.bulge_um[rows] += to_share_m * amount
            _from_here_on(inputs.free_ppm, rows, -amount)
        case "drag_ppm":
            inputs.bulge_um[rows] -= to_share_m * amount
            inputs.drag_ppm[rows] += amount
        case "path_um":
            inputs.path_um[rows] += amount
        case "width_ppm":
            _from_here_on(inputs.wide_ppm, rows, amount)
        case "side_um":
            inputs.side_um[:] += amount
        case "roller_urad":
            inputs.roller_urad[rows] += amount
        case "shift_um":
            inputs.shift_um[rows] += amount


def _from_here_on(table: np.ndarray, rows: slice, amount: np.ndarray) -> None:
    """What happens to the web in a span, it carries on to all later stations."""
    for row in range(len(table))[rows]:
        table[row:] += amount
