"""Terms enter one by one, the best supported first, until none is left that the data support.

Each round every shape with every pattern over stations competes for what is left; the winner's
settings are refined, and then every movement found so far is put to the vote again, so that a
first guess that blended two causes gives way.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from regscan.drift.model.field import Field
from regscan.drift.model.fit import Fit, Model, Scale, fit
from regscan.drift.model.menu import Item, passing_items, slow_items
from regscan.drift.model.movement import Movement, columns_of, sizes_of
from regscan.drift.model.patterns import Pattern, press_patterns, sight_patterns
from regscan.drift.model.polish import polished
from regscan.drift.model.prices import price
from regscan.drift.model.refine import refined
from regscan.drift.model.scan import Library, Products, kept_library, library_of, products
from regscan.drift.model.views import View

MOST = 6
FRONT = 4
RIVALS = 8
SLACK = 10.0
NEARLY = 0.8
HIT = 16.0  # squared misfit that a hit must explain at half of the stations
FEW, SHAKEN = 3, 0.8
"""Among few movements each is put to the vote again after a new one; among more, those of whose
gain the new one takes more than a fifth."""
KEPT = 5  # patterns of each shape that stay in the race


@dataclass(frozen=True, slots=True)
class Candidate:
    """A movement, what it would take away of the misfit, and what it must beside the others."""

    move: Movement
    gain: float
    price: float

    @property
    def score(self) -> float:
        """Gain less price."""
        return self.gain - self.price


class Pursuit:
    """The search in one channel, with its noise held."""

    def __init__(self, field: Field, view: View, scale: Scale) -> None:
        self.field, self.scale = field, scale
        self.press = press_patterns(field.spans)
        self.sight = sight_patterns(view)
        self.library = kept_library(field, scale, slow_items(field))

    def run(self, moves: Sequence[Movement] = ()) -> list[Movement]:
        """Everything the data support, in the order it was found."""
        found = self._vote(list(moves), range(len(moves)))
        for _ in range(MOST):
            best = self.best(found)
            if best is None or best.score <= 0.0:
                break
            before = self._gains(found)
            found = polished(self.field, self.scale, [*found, best.move])
            now = self._gains(found)
            few = len(before) <= FEW
            shaken = [k for k, gain in enumerate(before) if few or now[k] < SHAKEN * gain]
            found = self._vote(found, shaken)
        return self._worth_it(polished(self.field, self.scale, found))

    def fit(self, moves: Sequence[Movement]) -> Fit:
        """The best sizes of some movements."""
        return fit(self.field, self.scale, columns_of(self.field, moves))

    def cost(self, moves: Sequence[Movement]) -> float:
        """Squared misfit that is left, and the price of what was taken to explain the rest."""
        others = (list(moves[:k]) + list(moves[k + 1 :]) for k in range(len(moves)))
        return self.fit(moves).misfit + sum(map(price, moves, others))

    def best(self, moves: Sequence[Movement]) -> Candidate | None:
        """What would explain most beside some movements, its settings refined."""
        found = self._refined(_front(self.candidates(moves)), moves)
        return max(found, key=lambda c: c.score, default=None)

    def rivals(self, moves: Sequence[Movement], number: int) -> list[Candidate]:
        """Other movements that would explain nearly as much in the place of one, best first."""
        rest = [move for k, move in enumerate(moves) if k != number]
        found = self._refined(_front(self.candidates(rest), RIVALS), rest)
        return sorted(found, key=lambda c: -c.score)

    def _refined(self, found: Iterable[Candidate], moves: Sequence[Movement]) -> list[Candidate]:
        better = (refined(self.field, self.scale, moves, c.move) for c in found)
        return [Candidate(move, gain, price(move, moves)) for move, gain in better]

    def candidates(self, moves: Sequence[Movement]) -> Iterator[Candidate]:
        """All of the menu with the gain each would have."""
        columns = columns_of(self.field, moves)
        left = fit(self.field, self.scale, columns).left
        model = Model(self.scale, self.scale.whiten(columns))
        found = list(self._scan(self.library, model, left))
        passing = passing_items(self.field, left)
        if passing:
            found += self._scan(library_of(self.field, self.scale, passing), model, left)
        for move, gain in found:
            yield Candidate(move, gain, price(move, moves))

    def _scan(
        self, library: Library, model: Model, left: np.ndarray
    ) -> Iterator[tuple[Movement, float]]:
        got = products(library, self.field, model, left)
        press = got.gains(np.array([p.shares[0] for p in self.press]))
        sight = got.gains(np.array([p.shares[0] for p in self.sight]))
        webs = {item.web for item in library.items if item.web}
        answers = {web: got.joint_gain(np.array(web.shares)) for web in webs}
        for number, item in enumerate(library.items):
            if item.web:
                if item.shape.kind == "blip" and not _of_several(got, number, item.web):
                    continue
                move = Movement((item.shape,), item.web)
                yield move, float(answers[item.web][number])
            elif item.shape.kind == "speed seen":
                yield from _top(item, self.sight, sight[number])
            else:
                yield from _top(item, self.press, press[number])

    def _gains(self, moves: Sequence[Movement]) -> list[float]:
        """What each movement takes away of the misfit beside all others."""
        fitted = self.fit(moves)
        return [fitted.gain(part) for part in sizes_of(moves)]

    def _worth_it(self, moves: list[Movement]) -> list[Movement]:
        """Without those whose work a better placed one has taken over since, the worst first."""
        while moves:
            others = [moves[:k] + moves[k + 1 :] for k in range(len(moves))]
            worth = [
                gain - price(move, rest)
                for move, rest, gain in zip(moves, others, self._gains(moves), strict=True)
            ]
            worst = int(np.argmin(worth))
            if worth[worst] > 0.0:
                break
            moves = others[worst]
        return moves

    def _vote(self, moves: list[Movement], numbers: Iterable[int]) -> list[Movement]:
        """Some movements, each against all others in its place; those not worth it go."""
        for k in sorted(numbers, reverse=True):
            rest = moves[:k] + moves[k + 1 :]
            best = self.best(rest)
            if best is None or best.score <= 0.0:
                moves = rest
            else:
                moves = [*moves[:k], best.move, *moves[k + 1 :]]
        return moves


def _front(candidates: Iterable[Candidate], most: int = FRONT) -> list[Candidate]:
    """The best of each kind and pattern, as far as settings may still lift it to the top."""
    best: dict[tuple[str, str, int], Candidate] = {}
    for one in candidates:
        key = one.move.kind, one.move.pattern.kind, one.move.pattern.at
        if key not in best or one.score > best[key].score:
            best[key] = one
    ordered = sorted(best.values(), key=lambda c: -c.score)[:most]
    top = ordered[0].score if ordered else 0.0
    return [one for one in ordered if one.score > max(-SLACK, NEARLY * top - SLACK)]


def _top(
    item: Item, patterns: Sequence[Pattern], gains: np.ndarray
) -> Iterator[tuple[Movement, float]]:
    for k in np.argsort(-gains)[:KEPT].tolist():
        yield Movement((item.shape,), patterns[k]), float(gains[k])


def _of_several(got: Products, number: int, each: Pattern) -> bool:
    """Whether a hit shows at most stations; one alone is something else's edge."""
    ordered = np.array(each.shares)[:, got.columns]
    onto = got.onto[number] @ ordered.T
    spread = np.einsum("pk,kl,pl->p", ordered, got.gram[number], ordered)
    gains = onto**2 / np.maximum(spread, 1e-9)
    return len(gains) > 1 and bool(np.median(gains) > HIT)
