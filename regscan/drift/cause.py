"""Why the print moved: a likely cause, its runner-up, and what would decide between them."""

from dataclasses import dataclass

from regscan.drift.behaviour import Channel


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The next likely cause of the same movement."""

    name: str
    title: str
    station: int | None


@dataclass(frozen=True, slots=True)
class Cause:
    """One likely cause.

    name        an entry of the table of causes (docs/how/causes.md); title: its plain words.
    station     the one it is named by; None for what comes with the web.
    stations    those whose print moves, in print order.
    channels    where it shows: circumferential, lateral, skew, width.
    pattern     one, stair, fan ... of the finding it rests on.
    sentence    what moved, how and by how much, as a press engineer would sign it.
    reason      why that points to the cause.
    first_check what to look at first; anything on the machine only with it stopped and isolated.
    deciding    the run or measurement that would tell it from the runner-up.
    moves_mm    the most that any station's print moves by it within the run.
    share       how much of the belief it has among all causes in the table, 0 to 1.
    findings    its evidence: positions in Behaviours.findings, the largest first.
    """

    name: str
    title: str
    station: int | None
    ink: str
    stations: tuple[int, ...]
    channels: tuple[Channel, ...]
    pattern: str
    sentence: str
    reason: str
    first_check: str
    deciding: str
    moves_mm: float
    share: float
    runner_up: RunnerUp | None
    findings: tuple[int, ...] = ()
