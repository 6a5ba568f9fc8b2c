"""What a term must explain before it enters: the price of choosing among many.

A term of one size is let in when it lowers the squared misfit, in units of the noise, by more
than its price. Pure noise lowers it by chi-squared of one degree for each candidate; over
the whole menu (some two hundred shapes, forty patterns, four channels) less than one calm run in a
hundred may pass. Every further size, and every setting that was searched for, costs more.
"""

from collections.abc import Iterable

from regscan.drift.model.movement import Movement

ENTRY = 22.0
PER_SIZE = 8.0
PER_SHAPE = {
    "speed above": 5.0,
    "warm-up": 4.0,
    "dose": 8.0,
    "step": 10.0,
    "step frame": 10.0,
    "creep from": 8.0,
    "creep between": 15.0,
    "blip": 16.0,
}
SAME_M = 5.0
"""A step this near to another is where that one is: its place was not searched for."""


def price(move: Movement, beside: Iterable[Movement] = ()) -> float:
    """The squared misfit that a movement must take away beside some others."""
    risen = 6.0 if move.settings.get("rise_m", 0.0) > 0.0 else 0.0
    searched = 0.0 if _placed(move, beside) else PER_SHAPE.get(move.kind, 0.0)
    return ENTRY + PER_SIZE * (move.sizes - 1) + searched + risen


def _placed(move: Movement, beside: Iterable[Movement]) -> bool:
    return move.kind == "step" and any(
        abs(one.settings["at_m"] - move.settings["at_m"]) < SAME_M
        for one in beside
        if one.kind == "step"
    )
