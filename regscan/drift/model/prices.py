"""What a term must explain before it enters: the price of choosing among many.

A term of one size is let in when it lowers the squared misfit, in units of the noise, by more
than its price. Pure noise lowers it by chi-squared of one degree for each candidate; over
the whole menu (some two hundred shapes, forty patterns, four channels) less than one calm run in a
hundred may pass. Every further size, and every setting that was searched for, costs more.
"""

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


def price(move: Movement) -> float:
    """The squared misfit that a movement must take away."""
    risen = 6.0 if move.settings.get("rise_m", 0.0) > 0.0 else 0.0
    return ENTRY + PER_SIZE * (move.sizes - 1) + PER_SHAPE.get(move.kind, 0.0) + risen
