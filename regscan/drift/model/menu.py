"""The menu: every shape that is tried in every round, as far as the run's clock allows."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from regscan.drift.model.clocks import Moments
from regscan.drift.model.field import Field
from regscan.drift.model.patterns import Pattern, each_station, web_pattern
from regscan.drift.model.shapes import Shape, shape
from regscan.drift.model.transport import DRIVES, Drive

STEPS = 70
BENDS = 6
TAUS = 12
ONSETS = (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)
POWERS = (0.5, 1.0)
NEAR_M = 4.0
PLACES = 3
CLEARLY = 8.0
RISES_M = (5.0, 15.0)
LENGTHS_M = (0.8, 1.6, 3.0)
ALONG_CHANNELS = ("circumferential", "skew")
PASSING: tuple[Drive, ...] = ("strain", "pull")
LASTING: tuple[Drive, ...] = ("spans", "drums")
SIDE: Drive = "side"


@dataclass(frozen=True, slots=True)
class Item:
    """A shape on the menu, plain at every station or as the web's answer to a drive."""

    shape: Shape
    web: Pattern | None = None


def slow_items(field: Field) -> tuple[Item, ...]:
    """Shapes of the whole run; what the clock does not tell is left out."""
    clock = field.clock
    found: list[Item] = []
    if clock.speeds_differ:
        found += [Item(one) for one in _by_speed(clock)]
        found += _web_by_speed(field)
    if clock.time_s is not None:
        found += [Item(one) for one in _by_time(clock)]
    if clock.web_m is not None:
        found += [Item(one) for one in _by_metres(clock.web_m)]
    else:
        found += [Item(one) for one in _by_frames(clock.order)]
    return tuple(found)


def _web_by_speed(field: Field) -> Iterator[Item]:
    clock = field.clock
    if field.channel not in ALONG_CHANNELS or clock.web_m is None:
        return
    yield Item(shape("speed seen"))
    slow = [one for one in _by_speed(clock) if "slowing" not in one.kind]
    for drive in (*PASSING, *LASTING):
        pattern = web_pattern(drive, field.spans)
        yield from (Item(one, pattern) for one in slow if drive in drives_of(one.kind))


def drives_of(kind: str) -> tuple[Drive, ...]:
    """What may act on the web by a shape of that kind.

    No drum gets larger while the web gains speed, but idlers ask for tension. Beside a strain of
    the same shape the two look alike (all drums = all spans - strain), so the data cannot say.
    """
    return tuple(d for d in DRIVES if not (kind == "acceleration" and d in ("drum", "drums")))


def _by_speed(clock: Moments) -> Iterator[Shape]:
    assert clock.speed_m_min is not None
    low, high = np.percentile(clock.speed_m_min, [2, 98])
    yield shape("speed")
    yield shape("after slowing")
    for part in ONSETS:
        yield shape("speed above", onset_m_min=float(low + part * (high - low)))
    for power in POWERS:
        yield shape("dose", tau_s=1.0, power=power, fast=1.0)
    if clock.gain_m_s2 is not None:
        yield shape("acceleration")
        yield shape("while slowing")


def _by_time(clock: Moments) -> Iterator[Shape]:
    assert clock.time_s is not None
    span = float(np.ptp(clock.time_s))
    yield shape("drift")
    taus = np.geomspace(max(span / 60.0, 2.0), 2.0 * span, TAUS).tolist()
    for tau in taus:
        yield shape("warm-up", tau_s=tau)
    if clock.speeds_differ:
        for tau in taus[1::3]:
            for power in POWERS:
                yield shape("dose", tau_s=tau, power=power, fast=0.3)


def _by_metres(web_m: np.ndarray) -> Iterator[Shape]:
    low, high = float(web_m.min()), float(web_m.max())
    yield shape("creep")
    for at in np.linspace(low, high, STEPS + 4)[2:-2].tolist():
        yield shape("step", at_m=at, rise_m=0.0)
    bends = np.linspace(low, high, BENDS + 1).tolist()
    for k, start in enumerate(bends[:-1]):
        if k:
            yield shape("creep from", from_m=start)
        for end in bends[k + 1 : -1]:
            yield shape("creep between", from_m=start, to_m=end)


def _by_frames(order: np.ndarray) -> Iterator[Shape]:
    yield shape("drift frame")
    for at in np.linspace(order.min(), order.max(), STEPS // 2 + 4)[2:-2].tolist():
        yield shape("step frame", at_frame=at)


def passing_items(field: Field, left: np.ndarray) -> tuple[Item, ...]:
    """What happens within metres of web, tried where too much is left of the whitened values.

    Plain steps too: where noise wanders far, a step a few metres off explains next to nothing.
    """
    if field.clock.sheet_m is None:
        return ()
    sheet = field.together(field.clock.sheet_m)
    along = field.channel in ALONG_CHANNELS
    webs = [web_pattern(drive, field.spans) for drive in (PASSING if along else (SIDE,))]
    each = each_station(field.stations, field.columns, field.reference)
    path = float(field.spans.place_m[-1])
    found: list[Item] = []
    for at in _restless(sheet[:, 0], (left**2).sum(axis=1), left.shape[1]):
        starts = np.arange(at - 4.0, at + path + 2.0, 0.5).tolist()
        steps = [shape("step", at_m=x, rise_m=0.0) for x in starts]
        steps += [step.but(rise_m=rise) for step in steps[::2] for rise in RISES_M]
        found += [Item(step, web) for step in steps for web in (*webs, None)]
        found += [
            Item(shape("blip", at_m=x, length_m=length), each)
            for x in np.arange(at - 5.0, at + 1.0, 0.5).tolist()
            for length in LENGTHS_M
        ]
    return tuple(found)


def _restless(at_m: np.ndarray, energy: np.ndarray, stations: int) -> list[float]:
    """Where clearly more is left within a few metres than elsewhere, largest first."""
    pitch = max(float(np.median(np.diff(at_m))), 0.05)
    size = max(1, min(round(NEAR_M / pitch), len(at_m) // 8))
    around = np.convolve(energy, np.ones(size), mode="same")
    usual = float(np.median(around))
    spread = max(1.4826 * float(np.median(np.abs(around - usual))), 1e-9)
    places = []
    for _ in range(PLACES):
        top = int(np.argmax(around))
        if around[top] < usual + CLEARLY * spread:
            break
        places.append(float(at_m[top]))
        around[np.abs(at_m - at_m[top]) < 2.0 * NEAR_M] = 0.0
    return places
