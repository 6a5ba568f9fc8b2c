"""The run model on a seeded bank of simulated runs: is the right cause found, and how well?

Single faults, pairs and none, three noise levels, six to ten stations, 300 to 3,000 frames.
Prints every figure that is wanted, which fault is taken for which, and the time of a run of
3,000 frames and ten stations with marks at one edge and at both, with its growth.

    python tests/bench/run_bank.py [--tiny] [--runs N] [--processes N] [--json FILE] [--all]

Exit code 1 when a figure is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, replace
from multiprocessing import get_context
from pathlib import Path

from regscan.threads import one_each

one_each()  # before numpy comes in: as the command does

RUNS = 260
TINY = (0, 14, 29)
LONG = 3000
SECONDS = 5.0


def scores_of(seeds: Sequence[int], processes: int) -> "list[Score]":
    """Every run scored, in the order of the seeds."""
    if processes < 2:
        return [score(seed) for seed in seeds]
    with get_context("spawn").Pool(processes) as pool:
        return pool.map(score, seeds, chunksize=2)


def times(frames: Sequence[int]) -> list[tuple[int, int, float, float]]:
    """(frames, mark sets, seconds of analysis, seconds per 1,000 frames), ten stations."""
    from regscan.simulator.bank import bank_run, plan_of

    found = []
    for edges in (False, True):
        for count in frames:
            plan = replace(plan_of(7, ("servo-delay",)), stations=10, edges=edges, limit="")
            run = bank_run(7, replace(plan, frames=count, marks=1))
            taken = score_of(run).seconds
            found.append((count, 1 + edges, taken, 1000.0 * taken / count))
    return found


def main() -> int:
    """Run the bench."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--tiny", action="store_true")
    ask.add_argument("--runs", type=int, default=RUNS)
    ask.add_argument("--processes", type=int, default=1)
    ask.add_argument("--json", type=Path)
    ask.add_argument("--all", action="store_true", help="also every run and size that went wrong")
    given = ask.parse_args()
    seeds = TINY if given.tiny else range(given.runs)
    scores = scores_of(seeds, given.processes)
    rows = wanted(scores)
    print(wanted_table(rows))
    print(f"\n{confusions(scores)}\n")
    if given.all:
        print("\n".join([*misses(scores), "", *worst_sizes(scores), ""]))
    timed = times([600] if given.tiny else [750, 1500, LONG])
    for count, sets, taken, per in timed:
        print(
            f"{count} frames, {sets} mark set(s), 10 stations: {taken:.2f} s, {per:.2f} s per 1,000"
        )
    if given.json:
        given.json.write_text(json.dumps([asdict(s) for s in scores]), encoding="utf-8")
    long = [taken for count, _, taken, _ in timed if count == LONG]
    bad = [row.what for row in rows if not row.met] + ["time"] * any(t > SECONDS for t in long)
    if bad and not given.tiny:
        print(f"missed: {', '.join(bad)}")
        return 1
    return 0


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.banked.score import Score, score, score_of  # noqa: E402
from bench.banked.tables import (  # noqa: E402
    confusions,
    misses,
    wanted,
    wanted_table,
    worst_sizes,
)

if __name__ == "__main__":
    sys.exit(main())
