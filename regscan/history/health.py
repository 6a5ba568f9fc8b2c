"""The health of one press: its runs, their trends, and the station to look at first."""

from dataclasses import dataclass

from regscan.errors import BadHistory, Problem
from regscan.history.ranking import Ranking, rank
from regscan.history.records import Entry
from regscan.history.store import History, seconds
from regscan.history.trends import FEWEST, SIGNIFICANCE, Trend, points_of, trends_of
from regscan.report.words import count


@dataclass(frozen=True, slots=True)
class Asked:
    """Which runs are looked at: of one press, since a moment, jobs apart or together."""

    press: str = ""
    since: str = ""
    across_jobs: bool = False


@dataclass(frozen=True, slots=True)
class Health:
    """What is to be said of a press, headline first."""

    press: str
    entries: tuple[Entry, ...]
    trends: tuple[Trend, ...]
    ranking: Ranking
    heading: str
    sentence: str


def health_of(history: History, asked: Asked) -> Health:
    """The health of a press. Raises BadHistory where there is no run, or no one press is meant."""
    press = _press(history, asked.press)
    entries = history.entries(press=press, since=asked.since)
    if not entries:
        cure = "take an earlier moment, or add runs with regscan history add"
        raise BadHistory(history.path, Problem("", f"holds no run of {press!r} since then", cure))
    since_s = seconds(asked.since) if asked.since else -1e18
    trends = trends_of(points_of(history.link, press, since_s), asked.across_jobs)
    ranking = rank(trends, entries[-1].reference)
    return Health(press, tuple(entries), trends, ranking, *_said(ranking, len(entries)))


def _press(history: History, wanted: str) -> str:
    known = history.presses()
    if wanted in known:
        return wanted
    listed = ", ".join(known)
    if wanted:
        problem = Problem("", f"holds no run of {wanted!r}", f"one of: {listed}" if known else "")
    elif not known:
        problem = Problem("", "holds no run yet", "add runs with regscan history add DIR")
    elif len(known) > 1:
        problem = Problem("", "holds several presses", f"choose with --press: {listed}")
    else:
        return known[0]
    raise BadHistory(history.path, problem)


def _said(ranking: Ranking, runs: int) -> tuple[str, str]:
    """Headline and sentence."""
    asked = count(ranking.questions, "question")
    if not ranking.questions:
        return (
            "Too few runs yet",
            f"A trend needs {FEWEST} runs of the same job; there are {count(runs, 'run')}, and no"
            " job has so many. Jobs that seldom come again can be taken together with"
            " --across-jobs.",
        )
    rate = round(100 * SIGNIFICANCE)
    if not ranking.looks:
        return (
            "No station has surely grown worse",
            f"{asked} asked of {count(runs, 'run')}. A change that is small, or only a few runs"
            " old, may still hide in the noise.",
        )
    first = ranking.looks[0]
    more = len(ranking.looks) - 1
    others = f" {count(more, 'other station')} changed too." if more else ""
    return (
        f"Look at station {first.station} ({first.ink}) first",
        f"Its print has come to move {100 * first.share:.0f} % of the tolerance more than at the"
        f" first run.{others} {asked} asked of {count(runs, 'run')}; where nothing changes, at"
        f" most {rate} histories in 100 name a station.",
    )
