"""Did each move do what was expected of it? What the frames show before and after."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from regscan.drift.words import lies
from regscan.verdict.movelog import Made
from regscan.verdict.words import move_words

Done = Literal[
    "as expected",
    "too little",
    "too much",
    "no effect",
    "wrong way",
    "wrong station",
    "cannot be told",
]

SIGMAS = 2.0
SLACK = 0.2  # share of a move by which it may miss: true steps differ from the stated ones
NOTHING = 0.15  # share of a move that counts as nothing


@dataclass(frozen=True, slots=True)
class Effect:
    """What one move (or all moves of one actuator at one place) did.

    expected_mm   change of the colour's offset that was expected; for the reference, minus
                  the change of all others.
    seen_mm, sd_mm   what the frames show, and one standard deviation of it; None where it
                  cannot be told.
    turns         how often its direction turned round, each counted with the sign of the
                  move that followed; None where the direction before is not known.
    """

    station: int
    ink: str
    axis: str
    moves: tuple[Made, ...]
    expected_mm: float
    seen_mm: float | None
    sd_mm: float | None
    turns: int | None
    answer: Done
    why: str


def told(effect: Effect, step_mm: float) -> Effect:
    """The effect with its answer and the sentence for it, from what was expected and seen."""
    if effect.seen_mm is None or effect.sd_mm is None:
        return effect
    answer = judge_move(effect.expected_mm, effect.seen_mm, effect.sd_mm, step_mm)
    return replace(effect, answer=answer, why=_why(effect, answer))


def judge_move(expected_mm: float, seen_mm: float, sd_mm: float, step_mm: float) -> Done:
    """The answer for one move; doubt that could hide the move gives "cannot be told"."""
    size, doubt = abs(expected_mm), SIGMAS * sd_mm
    along = seen_mm if expected_mm >= 0 else -seen_mm
    if size == 0.0 or doubt > size / 2.0:
        return "cannot be told"
    if abs(along - size) <= max(doubt, SLACK * size, abs(step_mm)):
        return "as expected"
    if abs(along) <= max(doubt, NOTHING * size):
        return "no effect"
    if along < 0.0:
        return "wrong way"
    return "too little" if along < size else "too much"


def _why(effect: Effect, answer: Done) -> str:
    assert effect.seen_mm is not None
    assert effect.sd_mm is not None
    asked = f"{_asked(effect.moves)} was expected to move the print by {effect.expected_mm:+.3f} mm"
    seen = f"it moved by {effect.seen_mm:+.3f} ±{effect.sd_mm:.3f} mm"
    hints: dict[Done, str] = {
        "no effect": "stop, isolate, then check coupling, clutch and lock of the register drive",
        "wrong way": "check the direction words of the job against the press",
        "too little": "play, or a step smaller than stated",
        "too much": "a step larger than stated, or a second move that was not noted",
        "cannot be told": "the move is too small for the doubt; more frames, or a larger move",
    }
    hint = hints.get(answer, "")
    return f"{asked}; {seen}" + (f": {hint}" if hint else "")


def _asked(moves: Sequence[Made]) -> str:
    return ", then ".join(move_words(one.axis, one.move_mm) for one in moves)


def moved_instead(effect: Effect, others: Sequence[tuple[int, str, float, float]]) -> Effect:
    """Another station that did what this one should have done, if there is exactly one.

    others   (station, ink, change in mm, its sd) of the stations that were not to move.
    """
    if effect.answer != "no effect":
        return effect
    size = effect.expected_mm
    like = [
        (station, ink, change)
        for station, ink, change, sd in others
        if abs(change - size) <= max(SIGMAS * sd, SLACK * abs(size)) and abs(change) > 3.0 * sd
    ]
    if len(like) != 1:
        return effect
    station, ink, change = like[0]
    axis = effect.moves[0].axis
    why = (
        f"{effect.ink} did not move, but {ink} (station {station}) did: its print went"
        f" {lies(axis, change)}"
    )
    return replace(effect, answer="wrong station", why=why)
