"""What the bench prints: wanted figures with what was reached, and who is taken for whom."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bench.banked.score import Score
from bench.banked.terms import Figure, share


@dataclass(frozen=True, slots=True)
class Wanted:
    """One figure: what was reached over how many, and the range it must lie in."""

    what: str
    reached: float
    of: int
    least: float
    most: float = 1.0

    @property
    def met(self) -> bool:
        """Whether it lies in its range; nothing to judge by counts as met."""
        return not self.of or self.least <= self.reached <= self.most


def wanted(scores: Sequence[Score]) -> list[Wanted]:
    """All figures but time."""
    singles = [s for s in scores if s.kind == "single" and s.faults[0].shown]
    placed = [s for s in singles if s.faults[0].stations]
    pairs = [s for s in scores if s.kind == "pair" and all(f.shown for f in s.faults)]
    calm = [s for s in scores if s.kind == "none"]
    sizes = [f for s in scores if not s.limit and s.kind == "single" for f in s.figures]
    told = [f for f in sizes if f.found is not None]
    return [
        Wanted(
            "right cause first, single faults", _share(s.first for s in singles), len(singles), 0.9
        ),
        Wanted(
            "right cause among the first two", _share(s.second for s in singles), len(singles), 0.97
        ),
        Wanted(
            "right station, single faults", _share(s.at_station for s in placed), len(placed), 0.99
        ),
        Wanted("no cause on fault-free runs", _share(not s.causes for s in calm), len(calm), 0.98),
        Wanted("pairs: both stations", _share(s.both for s in pairs), len(pairs), 0.9),
        Wanted("sizes found as what they are", share(sizes, "named"), len(sizes), 0.0),
        Wanted("sizes within 10 % or 3 um, of those found", share(told, "close"), len(told), 0.95),
        Wanted("95 % intervals hold the truth", share(told, "covered"), len(told), 0.92, 0.98),
    ]


def _share(rights: Iterator[bool]) -> float:
    values = list(rights)
    return sum(values) / len(values) if values else float("nan")


def wanted_table(rows: Sequence[Wanted]) -> str:
    """In markdown."""
    lines = ["| figure | reached | of | wanted | |", "|---|---|---|---|---|"]
    for row in rows:
        goal = (
            f"{row.least:.0%} to {row.most:.0%}" if row.most < 1.0 else f"at least {row.least:.0%}"
        )
        goal = goal if row.least else "as many as can be"
        said = "met" if row.met else "**missed**"
        lines.append(f"| {row.what} | {row.reached:.1%} | {row.of} | {goal} | {said} |")
    return "\n".join(lines)


def confusions(scores: Sequence[Score]) -> str:
    """Per fault: how often it came first, was runner-up, and what was named instead."""
    lines = [
        "| fault | runs | first | among two | station | instead, where not first |",
        "|---|---|---|---|---|---|",
    ]
    singles = [s for s in scores if s.kind == "single" and s.faults[0].shown]
    for name in sorted({s.faults[0].name for s in singles}):
        mine = [s for s in singles if s.faults[0].name == name]
        instead = Counter(_first(s) for s in mine if not s.first)
        others = ", ".join(f"{what} {count}" for what, count in instead.most_common())
        lines.append(
            f"| `{name}` | {len(mine)} | {sum(s.first for s in mine)} "
            f"| {sum(s.second for s in mine)} | {_stations(mine)} | {others} |"
        )
    return "\n".join(lines)


def _first(score: Score) -> str:
    return score.causes[0].name if score.causes else "nothing"


def _stations(scores: Sequence[Score]) -> str:
    placed = [s for s in scores if s.faults[0].stations]
    return f"{sum(s.at_station for s in placed)} of {len(placed)}" if placed else "-"


def misses(scores: Sequence[Score]) -> Iterator[str]:
    """One line for every run that went wrong."""
    for s in scores:
        faults = "; ".join(f"{f.name}@{f.stations}" for f in s.faults if f.shown)
        causes = "; ".join(f"{c.name}@{c.station} (or {c.runner_up})" for c in s.causes)
        shown = all(f.shown for f in s.faults)
        wrong = (
            (s.kind == "none" and s.causes)
            or (s.kind == "single" and shown and not (s.first and s.at_station))
            or (s.kind == "pair" and shown and not s.both)
        )
        if wrong:
            what = f"{faults or 'nothing'} -> {causes or 'nothing'}"
            yield f"seed {s.seed} {s.level} {s.limit}: {what}"


def worst_sizes(scores: Sequence[Score]) -> Iterator[str]:
    """Sizes that are not within what is wanted, or not covered."""
    for s in scores:
        for f in s.figures:
            if s.kind == "single" and not s.limit and (not f.close or not f.covered):
                yield f"seed {s.seed} {_figure(f)}"


def _figure(f: Figure) -> str:
    where = f"{f.fault}, {f.channel} {f.kind} at {f.station}: true {f.true:.4g}"
    if f.found is None:
        return f"{where}, not found"
    return f"{where}, found {f.found.value:.4g} ±{f.found.sd:.2g}"
