"""Moves in the words of the trade and of the press, and how to approach them against play."""

import math

from regscan.job.job import Axis
from regscan.job.rules import DirectionWords
from regscan.verdict.actuator import Actuator

OVERSHOOT = 1.5  # plays to go beyond, so that coming back takes up all of it
FINISH: dict[Axis, int] = {"circumferential": -1, "lateral": 1}
"""The direction every move ends in where there is play: advance, and toward the drive side."""


def move_words(axis: Axis, move_mm: float) -> str:
    """A move in the press's words; + retards, + is toward the drive side; "leave" for none."""
    if move_mm == 0.0:
        return "leave"
    if axis == "circumferential":
        return f"{'retard' if move_mm > 0 else 'advance'} {length(move_mm)}"
    side = "drive" if move_mm > 0 else "operator"
    return f"move {length(move_mm)} toward {side} side"


def press_words(axis: Axis, move_mm: float, own: DirectionWords) -> str:
    """What this press's own controls say for the direction; "" where the job has no word."""
    if move_mm == 0.0:
        return ""
    if axis == "circumferential":
        return own.retard if move_mm > 0 else own.advance
    return own.drive_side if move_mm > 0 else own.operator_side


def spoken(axis: Axis, move_mm: float, own: DirectionWords) -> str:
    """A move in the trade's words, with the press's own in brackets where it has them."""
    word = press_words(axis, move_mm, own)
    return move_words(axis, move_mm) + (f" ({word})" if word else "")


def length(move_mm: float) -> str:
    """A length without digits that are not there: 0.12 mm, 0.005 mm."""
    text = f"{abs(move_mm):.4f}".rstrip("0")
    whole, _, decimals = text.partition(".")
    return f"{whole}.{decimals:0<2} mm"


def overshoot_steps(actuator: Actuator) -> int:
    """Steps to go beyond and come back; 0 where there is no play."""
    play = actuator.play_mm + 2.0 * actuator.play_sd_mm
    if actuator.play_mm <= 0.0:
        return 0
    return math.ceil(OVERSHOOT * play / abs(actuator.step_mm))


def approach(axis: Axis, steps: int, actuator: Actuator) -> str:
    """How to make a move where there is play, so that it always ends in one direction."""
    beyond = overshoot_steps(actuator)
    if not (beyond and steps):
        return ""
    end = move_words(axis, FINISH[axis] * 1.0).split(" ")[0] if axis == "circumferential" else ""
    word = f"with an {end}" if end else "toward drive side"
    if turns_back(axis, steps, actuator):
        out = math.copysign(abs(steps) + beyond, steps) * actuator.step_mm
        back = -math.copysign(beyond, steps) * actuator.step_mm
        return f"{move_words(axis, out)}, then {move_words(axis, back)}: finish {word}"
    play = length(actuator.play_mm)
    return f"finish {word}; the first {play} are lost if it last moved the other way"


def turns_back(axis: Axis, steps: int, actuator: Actuator) -> bool:
    """Whether a move has to go beyond its end and come back, to end in the right direction."""
    return overshoot_steps(actuator) > 0 and steps * actuator.step_mm * FINISH[axis] < 0
