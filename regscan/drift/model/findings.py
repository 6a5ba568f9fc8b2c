"""From what was fitted to plain records: findings over stations, terms station by station."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.drift.behaviour import (
    Behaviour,
    Channel,
    Estimate,
    Finding,
    Rival,
    Setting,
    Term,
    TermKind,
)
from regscan.drift.model.channels import Scene
from regscan.drift.model.doubt import Known, known_of
from regscan.drift.model.explain import Explained
from regscan.drift.model.field import Field
from regscan.drift.model.fit import Fit, Scale
from regscan.drift.model.movement import Movement, own_at, sizes_of
from regscan.drift.model.patterns import Pattern
from regscan.drift.model.pursuit import Candidate
from regscan.drift.model.transport import DRIVES, Spans

SIGMAS = 1.96
MODEL = 0.015
"""Share of a size that the model itself may be off: web paths to a centimetre, corners of ramps to
a part of a second, strain that is not quite linear. Part of every size's doubt."""
KINDS: dict[str, TermKind] = {
    "speed": "speed",
    "speed above": "speed above",
    "speed seen": "speed at the camera",
    "acceleration": "acceleration",
    "after slowing": "two levels",
    "while slowing": "two levels",
    "warm-up": "warm-up",
    "dose": "dose",
    "drift": "drift",
    "creep": "drift",
    "creep from": "drift",
    "creep between": "drift",
    "drift frame": "drift",
    "step": "step",
    "step frame": "step",
    "blip": "blip",
    "wave": "period in metres",
    "swing": "period in seconds",
    "roll": "turn of the roll",
    "round": "round the repeat",
    "turned": "round the repeat",
}
UNITS = {
    "speed": "mm per m/min",
    "speed above": "mm per m/min",
    "speed seen": "mm per m/min",
    "acceleration": "mm per m/s2",
    "dose": "mm at 100 m/min",
    "drift": "mm per minute",
    "creep": "mm per km",
    "creep from": "mm per km",
    "creep between": "mm per km",
    "drift frame": "mm per 1000 frames",
}
PASSING = ("strain", "pull", "side")
PERIODIC = ("period in metres", "period in seconds", "turn of the roll")
NAMES = {"length_m": "wavelength_m"}
LEAST_MOVE_MM = 1e-5


@dataclass(frozen=True)
class Moved:
    """One movement of an explained channel with its doubt and what it does, moments x stations."""

    move: Movement
    known: Known
    field: Field
    contribution_mm: np.ndarray
    gain: float
    rivals: tuple[Candidate, ...]


def moved_of(explained: Explained) -> list[Moved]:
    """All movements of one channel, the periodic ones last."""
    slow = _moved(explained.slow, explained.scale, explained.moves, explained.fit)
    with_rivals = [
        Moved(m.move, m.known, m.field, m.contribution_mm, m.gain, rivals)
        for m, rivals in zip(slow, explained.rivals, strict=True)
    ]
    waves = _moved(explained.field, explained.wave_scale, explained.waves, explained.wave_fit)
    return with_rivals + waves


def _moved(field: Field, scale: Scale, moves: Sequence[Movement], fitted: Fit) -> list[Moved]:
    parts = sizes_of(moves)
    sizes = [fitted.size[part] for part in parts]
    known = known_of(field, scale, moves, sizes)
    return [
        Moved(move, one, field, move.at(field) @ size, fitted.gain(part), ())
        for move, one, size, part in zip(moves, known, sizes, parts, strict=True)
    ]


def finding_of(moved: Moved, channel: Channel, scene: Scene) -> Finding:
    """The movement as a record over stations."""
    move, shares = moved.move, own_shares(moved.move.pattern, moved.field.spans)
    own = np.abs(shares).max(axis=0)
    index = int(np.argmax(own))
    stations = tuple(n for n, s in zip(scene.stations, own, strict=True) if s > 1e-9)
    named = scene.stations[move.pattern.at] if move.pattern.at >= 0 else None
    return Finding(
        channel=channel,
        kind=kind_of(move),
        pattern=move.pattern.kind,
        station=named,
        stations=stations,
        reference=bool(own[scene.reference] > 1e-9),
        term=_term(
            moved, _own(move, shares, index), float(np.ptp(moved.contribution_mm, axis=0).max())
        ),
        gain=moved.gain,
        rivals=tuple(_rival(moved, c, scene) for c in moved.rivals),
    )


def _rival(moved: Moved, candidate: Candidate, scene: Scene) -> Rival:
    top = max(moved.gain, *(c.gain for c in moved.rivals))
    pattern = candidate.move.pattern
    return Rival(
        kind=kind_of(candidate.move),
        pattern=pattern.kind,
        station=scene.stations[pattern.at] if pattern.at >= 0 else None,
        behind=top - candidate.gain,
    )


def kind_of(move: Movement) -> TermKind:
    """What a movement's term is called."""
    if move.pattern.kind in PASSING and KINDS[move.kind] not in PERIODIC:
        return "passing shift" if move.pattern.kind == "side" else "passing strain"
    return KINDS[move.kind]


def own_shares(pattern: Pattern, spans: Spans) -> np.ndarray:
    """How much of each size every observed station keeps for good; sizes x stations.

    For what passes, how much acts: one at every station.
    """
    if pattern.kind == "fan":
        return np.array(pattern.shares) - pattern.shares[0][0]
    if pattern.kind not in DRIVES:
        return np.array(pattern.shares)
    count = len(spans.column)
    after = (spans.column >= pattern.acts_at) * 1.0
    path = spans.path_m - spans.path_m[0]
    settled = {
        "span": after,
        "drum": after * float(spans.span_m[pattern.acts_at]),
        "spans": path,
        "drums": path,
        "roller": -after * float(spans.span_m[pattern.acts_at]),
        "rollers": -path,
    }
    return np.array([settled.get(pattern.kind, np.ones(count))])


def _own(move: Movement, shares: np.ndarray, index: int) -> np.ndarray:
    """What of all fitted sizes is a station's own, shape by shape; shapes x sizes.

    Sizes come shape by shape, and within a shape size by size of the pattern.
    """
    return np.kron(np.eye(len(move.shapes)), shares[:, index][None, :])


def _against(
    move: Movement, field: Field, shares: np.ndarray, index: int, reference: int
) -> np.ndarray:
    """The same against the reference, which printed its mark of the frame at another moment.

    A wave of the reference is therefore told by the station's own cosine and sine first.
    """
    own = _own(move, shares, reference)
    if len(move.shapes) == 2 and own.any():
        columns = np.stack([own_at(field, one, None) for one in move.shapes], axis=2)
        turn, *_ = np.linalg.lstsq(columns[:, index], columns[:, reference], rcond=None)
        own = turn @ own
    return _own(move, shares, index) - own


def _term(moved: Moved, weights: np.ndarray, moves_mm: float) -> Term:
    """The term of one station; weights: its part of every fitted size, shape by shape."""
    move, known = moved.move, moved.known
    passing = move.pattern.kind in PASSING
    per_shape = weights @ known.size
    covariance = weights @ known.covariance @ weights.T
    if len(move.shapes) == 2:
        size = float(np.hypot(*per_shape))
        along = per_shape / max(size, 1e-12)
        sd = float(np.sqrt(max(along @ covariance @ along, 0.0)))
    else:
        size, sd = float(per_shape[0]), float(np.sqrt(max(covariance[0, 0], 0.0)))
    sd = float(np.hypot(sd, MODEL * size))
    scale = 1000.0 if passing and move.pattern.kind != "side" else 1.0
    unit = "ppm" if scale != 1.0 else "mm"
    if passing and move.kind in UNITS:
        unit += UNITS[move.kind].removeprefix("mm")
    elif not passing:
        unit = UNITS.get(move.kind, "mm")
    return Term(
        kind=kind_of(move),
        size=_estimate(scale * size, scale * sd),
        unit=unit,
        settings=tuple(_settings(move, known)),
        moves_mm=moves_mm,
    )


def _settings(move: Movement, known: Known) -> Iterator[Setting]:
    for name, value in known.settings.items():
        if name == "quarter" or (name == "tau_s" and move.settings.get("fast", 0.0) >= 1.0):
            continue
        yield Setting(NAMES.get(name, name), _estimate(value, known.setting_sd.get(name, 0.0)))
    if move.kind == "while slowing":
        yield Setting("only_in_ramps", _estimate(1.0, 0.0))


def _estimate(value: float, sd: float) -> Estimate:
    return Estimate(value, sd, value - SIGMAS * sd, value + SIGMAS * sd)


def behaviours_of(
    explained: Explained, moved: Sequence[Moved], channel: Channel, scene: Scene
) -> Iterator[Behaviour]:
    """Every station of one channel with its terms."""
    field, scale = explained.field, explained.wave_scale
    fitted = explained.wave_fit
    for column, index in enumerate(field.columns.tolist()):
        terms = []
        for one in moved:
            reach = float(np.ptp(one.contribution_mm[:, column]))
            if reach <= LEAST_MOVE_MM:
                continue
            shares = own_shares(one.move.pattern, field.spans)
            if one.move.pattern.kind in PASSING:  # told as what acts on the web
                weights = _own(one.move, shares, index)
            else:
                weights = _against(one.move, one.field, shares, index, scene.reference)
            if np.abs(weights).max() > 1e-9:
                terms.append(_term(one, weights, reach))
        level, sd = float(fitted.level_mm[column]), float(fitted.level_sd_mm[column])
        yield Behaviour(
            station=scene.stations[index],
            ink=scene.inks[index],
            channel=channel,
            level=_estimate(level, sd),
            terms=tuple(terms),
            noise_mm=float(scale.sd_mm[column]),
            frames_per_independent=scale.noise.frames_per_independent,
        )
