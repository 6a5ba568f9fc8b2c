"""Settings of a movement (time constants, places, onsets) moved to where they explain most."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Model, Scale, fit
from regscan.drift.model.menu import Item, drives_of
from regscan.drift.model.movement import Movement, columns_of
from regscan.drift.model.patterns import Pattern, fan, web_pattern
from regscan.drift.model.scan import library_of, products
from regscan.drift.model.shapes import Shape
from regscan.drift.model.transport import DRIVES, Drive

ROUNDS = 6
TURNS = 4  # settings and what is behind the pattern are found by turns
POINTS = 7
SHRINKS = 0.4
HALF_UP = float(np.log(2.0))  # rises after which an exponential is half up
FLAT = 0.3  # squared misfit by which it does not matter any more where a setting lies
PER_DRIVE = 3.0  # what the web's own answer must explain more than the plain pattern
PER_SETTING = 6.0  # what a step that takes some metres must explain more than one at once
PLAIN = {"rise_m": 0.0, "power": 1.0}
"""Settings that stay at their plain value unless the data ask for another."""
LOGARITHMIC = ("tau_s", "length_m", "rise_m")
RISE_REACH = 0.7
RISES_M = (0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0)  # tried for a step that was at once so far
LIMITS = {"power": (0.1, 1.5), "fast": (0.0, 0.9), "rise_m": (0.0, 60.0), "length_m": (0.3, 8.0)}
FINER: dict[str, dict[str, tuple[Drive, ...]]] = {
    "along": {"stair": ("span", "drum"), "fan": ("spans", "drums")},
    "across": {"stair": ("roller",), "fan": ("rollers",)},
}
"""What may stand behind a plain pattern when the web takes some metres to follow."""

LEADS_M = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
"""Web path from the infeed nip to the first station: only the data tell it, where that nip meters
the web and strain changes quickly."""

Gains = Callable[[Sequence[Shape], Pattern], np.ndarray]


def refined(
    field: Field, scale: Scale, others: Sequence[Movement], move: Movement
) -> tuple[Movement, float]:
    """The movement with its best settings beside some others, and its gain."""
    gains = gains_beside(field, scale, others)
    shape, top = _settled(field, move.shapes[0], move.pattern, gains)
    pattern = move.pattern
    for _ in range(TURNS):
        before = pattern
        # A slow rise and the web's own delay can stand for each other: they are tried together.
        rises = _around(shape, "rise_m", RISE_REACH) if "rise_m" in shape.settings else ()
        tried = [shape, *rises]
        for finer in _finer(field, shape.kind, pattern):
            found = gains(tried, finer)
            if found.max() > top + PER_DRIVE * (pattern is move.pattern):
                shape, pattern, top = tried[int(found.argmax())], finer, float(found.max())
        if pattern is before:
            break
        shape, top = _settled(field, shape, pattern, gains)
    for name, usual in PLAIN.items():
        if shape.settings.get(name, usual) != usual:
            plain, gain = _settled(field, shape.but(**{name: usual}), pattern, gains, (name,))
            if gain > top - PER_SETTING:
                shape, top = plain, gain
    return replace(move, shapes=(shape,), pattern=pattern), top


def gains_beside(field: Field, scale: Scale, others: Sequence[Movement]) -> Gains:
    """What shapes with a pattern would take away of the misfit beside some movements."""
    columns = columns_of(field, others)
    left = fit(field, scale, columns).left
    model = Model(scale, scale.whiten(columns))

    def gains(shapes: Sequence[Shape], pattern: Pattern) -> np.ndarray:
        web = pattern if pattern.kind in DRIVES or pattern.kind == "each" else None
        library = library_of(field, scale, [Item(shape, web) for shape in shapes])
        return products(library, field, model, left).joint_gain(np.array(pattern.shares))

    return gains


def _finer(field: Field, kind: str, pattern: Pattern) -> Iterator[Pattern]:
    if field.clock.web_m is None:
        return
    side = "across" if field.channel == "lateral" else "along"
    if field.channel == "width":
        return
    for drive in FINER[side].get(pattern.kind, ()):
        if drive in drives_of(kind):
            yield web_pattern(drive, field.spans, pattern.at)
    if side == "along" and pattern.kind == "fan":
        yield from (fan(field.spans, lead) for lead in LEADS_M)


def _settled(
    field: Field, shape: Shape, pattern: Pattern, gains: Gains, held: tuple[str, ...] = ()
) -> tuple[Shape, float]:
    """Coordinate by coordinate, in ever smaller steps; settings that are held stay."""
    top = float(gains([shape], pattern)[0])
    reach = {name: _reach(field, shape, name) for name in shape.settings}
    reach = {name: size for name, size in reach.items() if size > 0.0 and name not in held}
    for _ in range(ROUNDS if reach else 0):
        steepest = 0.0
        for name in reach:
            around = list(_around(shape, name, reach[name]))
            found = gains(around, pattern)
            steepest = max(steepest, float(np.ptp(found)))
            if found.max() > top:
                shape, top = around[int(found.argmax())], float(found.max())
            reach[name] *= SHRINKS
        if steepest < FLAT:
            break
    return shape, top


def _reach(field: Field, shape: Shape, name: str) -> float:
    """How far a setting is first looked for on either side; ratios are in the logarithm."""
    web = field.clock.web_m
    metres = float(np.ptp(web)) if web is not None else 0.0
    if shape.kind == "dose" and shape.settings["fast"] >= 1.0 and name != "power":
        return 0.0
    return {
        "tau_s": 0.7,
        "length_m": 0.6,
        "at_m": max(metres / 70.0, 0.6),
        "at_frame": float(np.ptp(field.clock.order)) / 35.0,
        "from_m": metres / 8.0,
        "to_m": metres / 8.0,
        "onset_m_min": 15.0,
        "power": 0.4,
        "fast": 0.3,
        "rise_m": RISE_REACH,
    }.get(name, 0.0)


def _around(shape: Shape, name: str, reach: float) -> Iterator[Shape]:
    value = shape.settings[name]
    parts = np.linspace(-1.0, 1.0, POINTS)
    values = value * np.exp(parts * reach) if name in LOGARITHMIC else value + parts * reach
    if name == "rise_m" and value == 0.0:
        values = np.array(RISES_M)
    low, high = LIMITS.get(name, (-np.inf, np.inf))
    for one in sorted({float(np.clip(v, low, high)) for v in values}):
        changed = shape.but(**{name: one})
        if name == "rise_m":
            # What comes up slowly begins earlier: half of it is there at the same place.
            yield changed.but(at_m=shape.settings["at_m"] - HALF_UP * (one - value))
        if changed.settings.get("from_m", 0.0) <= changed.settings.get("to_m", np.inf) - 1e-6:
            yield changed
