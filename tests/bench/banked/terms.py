"""True terms of one fault beside what the run model says of them: one figure each.

One figure per fault, channel and kind: that of the station where it moves most, so that a stair
over seven stations does not count seven times.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from regscan.drift.behaviour import Behaviour, Behaviours, Estimate, Term
from regscan.simulator.bank import BankRun, FaultTruth
from regscan.simulator.press.true_terms import TrueTerm

KINDS = {
    "step": ("step",),
    "drift": ("drift",),
    "speed": ("speed",),
    "speed above": ("speed above",),
    "speed at the frame": ("speed at the camera",),
    "acceleration": ("acceleration",),
    "two levels": ("two levels",),
    "warm-up": ("warm-up", "dose"),
    "dwell": ("dose",),
    "period in metres": ("period in metres",),
    "round the repeat": ("round the repeat",),
    "step transient": ("passing strain", "passing shift"),
    "acceleration transient": ("passing strain",),
    "period in seconds transient": ("period in seconds",),
    "turn of the roll transient": ("turn of the roll",),
    "constant": ("level",),
}
"""What each true kind is called by the model; kinds without an entry have no single size."""
UNSIGNED = (
    "two levels",
    "period in metres",
    "round the repeat",
    "period in seconds transient",
    "turn of the roll transient",
)
WITHIN, WITHIN_MM = 0.10, 0.003
SAME_M = 5.0  # steps no further apart are one
LEAST_MM = 0.004  # what moves less in the whole run is not identifiable


@dataclass(frozen=True, slots=True)
class Figure:
    """One true size and what was found; found None where the model has no such term."""

    fault: str
    channel: str
    kind: str
    station: int
    true: float
    moves_mm: float
    found: Estimate | None

    @property
    def named(self) -> bool:
        """The model has such a term at that station."""
        return self.found is not None

    @property
    def close(self) -> bool:
        """Within 10 % of the truth, or within 3 um of what it moves."""
        if self.found is None:
            return False
        share = max(WITHIN, WITHIN_MM / max(self.moves_mm, 1e-9))
        return abs(self.found.value - self.true) <= share * abs(self.true)

    @property
    def covered(self) -> bool:
        """Whether the interval holds the truth."""
        return self.found is not None and self.found.low <= self.true <= self.found.high


def figures(run: BankRun, behaviours: Behaviours) -> Iterator[Figure]:
    """Every identifiable size of every fault of a run."""
    for fault in run.truth.faults:
        for (channel, kind), terms in _by_kind(fault).items():
            top = max(terms, key=lambda t: abs(_size(t)))
            true = _size(top)
            moves = _moves(run, fault, top)
            told = kind in KINDS and moves >= LEAST_MM and _measured(behaviours, top)
            if told and _identifiable(run, fault, top):
                found = _found(behaviours, top, kind)
                if kind == "constant":
                    true += _setup(run, top)
                if kind == "warm-up":
                    true *= _per_dose(behaviours, top)
                if kind in UNSIGNED:
                    true, found = abs(true), _abs(found)
                yield Figure(fault.fault.name, channel, kind, top.station, true, moves, found)


def _by_kind(fault: FaultTruth) -> dict[tuple[str, str], list[TrueTerm]]:
    """Terms by channel and kind; those of one station add up."""
    grouped: dict[tuple[str, str], dict[int, TrueTerm]] = {}
    for term in fault.terms:
        mine = grouped.setdefault((term.channel, _kind(term)), {})
        known = mine.get(term.station)
        size = term.size_mm + (known.size_mm if known else 0.0)
        mine[term.station] = TrueTerm(term.station, term.channel, term.kind, size, term.parameters)
    return {key: list(terms.values()) for key, terms in grouped.items()}


def _kind(term: TrueTerm) -> str:
    return "speed above" if term.parameters.get("onset_m_min", 0.0) > 0.0 else term.kind


def _size(term: TrueTerm) -> float:
    """In the model's unit."""
    given = term.parameters
    if term.kind.endswith("transient"):
        # um across are mm, ppm stay ppm.
        return float(given["size"]) / (1000.0 if given["drive"].endswith("_um") else 1.0)
    if term.kind == "round the repeat" and "order" not in given:
        return term.size_mm * float(given["repeat_m"])  # a slope over one repeat
    if term.kind == "drift":
        return 1000.0 * term.size_mm
    if term.kind == "dwell":
        return term.size_mm * float((given["at_m_min"] / 100.0) ** given["power"])
    return term.size_mm


def _moves(run: BankRun, fault: FaultTruth, term: TrueTerm) -> float:
    """How far it moves the print at its station, or at the one that moves most."""
    import numpy as np

    rows = run.rows
    mine = rows["status"] != "missing"
    if not term.kind.endswith("transient"):
        mine = mine & (rows["station"] == term.station)
    values = (
        fault.circumferential_mm
        if term.channel in ("circumferential", "skew")
        else (fault.lateral_mm)
    )
    if term.kind == "constant":
        return abs(term.size_mm)
    parts = [values[mine & (rows["station"] == k)] for k in np.unique(rows["station"][mine])]
    return max(float(np.ptp(part)) for part in parts)


def _setup(run: BankRun, term: TrueTerm) -> float:
    axis = {"circumferential": 0, "lateral": 1}.get(term.channel)
    return 0.0 if axis is None else float(run.truth.setup_mm[term.station][axis])


def _identifiable(run: BankRun, fault: FaultTruth, term: TrueTerm) -> bool:
    """Not the strain where an unknown mix of nips meters the web (only the product shows), nor
    the mean of a turned plate, which depends on where on the plate it is taken."""
    if term.kind.endswith("transient") and term.channel != "lateral":
        return run.truth.machine.metering.gripped >= 1.0
    return not (
        term.kind == "constant"
        and fault.fault.name == "plate-mounting"
        and term.channel == "lateral"
    )


def _measured(behaviours: Behaviours, term: TrueTerm) -> bool:
    return _behaviour(behaviours, term) is not None


def _behaviour(behaviours: Behaviours, term: TrueTerm) -> Behaviour | None:
    for one in behaviours.stations:
        if one.station == term.station and one.channel == term.channel:
            return one
    return None


def _found(behaviours: Behaviours, term: TrueTerm, kind: str) -> Estimate | None:
    one = _behaviour(behaviours, term)
    if one is None:
        return None
    if kind == "constant":
        return one.level
    mine = [t for t in one.terms if t.kind in KINDS[kind] and _comparable(t.unit, kind)]
    if kind == "warm-up":
        return _sum([t.size for t in mine])
    top = max(mine, key=lambda t: abs(t.size.value), default=None)
    if top is None or kind != "step":
        return top and top.size
    return _sum([t.size for t in mine if abs(_at_m(t) - _at_m(top)) < SAME_M])


def _per_dose(behaviours: Behaviours, term: TrueTerm) -> float:
    """Warming by a dose is told at 100 m/min; its truth is that at a speed of its own."""
    one, given = _behaviour(behaviours, term), term.parameters
    dose = one is not None and any(t.kind == "dose" for t in one.terms)
    at, power = given.get("at_m_min", 100.0), given.get("dwell", 0.0)
    return float((at / 100.0) ** power) if dose else 1.0


def _at_m(term: Term) -> float:
    return next((s.estimate.value for s in term.settings if s.name == "at_m"), float("nan"))


def _sum(sizes: Sequence[Estimate]) -> Estimate | None:
    """Warming, or a jump at one place, that was told in two parts: the truth adds up too."""
    if not sizes:
        return None
    value, sd = sum(e.value for e in sizes), sum(e.sd**2 for e in sizes) ** 0.5
    return Estimate(value, sd, value - 1.96 * sd, value + 1.96 * sd)


def _comparable(unit: str, kind: str) -> bool:
    return not (kind == "drift" and unit != "mm per km")


def _abs(found: Estimate | None) -> Estimate | None:
    if found is None or found.value >= 0.0:
        return found
    return Estimate(-found.value, found.sd, -found.high, -found.low)


def share(figures: Sequence[Figure], name: str) -> float:
    """Share of figures with a property, nan for none."""
    return sum(getattr(f, name) for f in figures) / len(figures) if figures else float("nan")
