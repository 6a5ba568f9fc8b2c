"""Run: so many odd presses on all cores, and the table of what came of them."""

import argparse
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

from bench.odd.judged import Outcome, outcome

PRESSES = 400
_TINY = 4
_AT_ONCE = 5  # per errand of a process


def main(arguments: Sequence[str]) -> int:
    """Print the table; 1 where measuring fell or a sure mark was wrong."""
    parser = argparse.ArgumentParser(description="Odd presses; see tests/bench/odd")
    parser.add_argument("--tiny", action="store_true", help="a few presses")
    parser.add_argument("--presses", type=int, default=PRESSES)
    parser.add_argument("--first", type=int, default=0, help="number of the first")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    wish = parser.parse_args(arguments)
    numbers = range(wish.first, wish.first + (_TINY if wish.tiny else wish.presses))
    with ProcessPoolExecutor(wish.workers) as pool:
        done = list(pool.map(outcome, numbers, chunksize=1 if wish.tiny else _AT_ONCE))
    print(_table(done))
    for one in done:
        for what, said in (("fell", [one.fell]), ("WRONG", one.wrong), ("far off", one.far)):
            for words in filter(None, said):
                print(f"press {one.number}, {one.layout}: {what}: {words.strip()}")
    bad = any(one.fell or one.wrong for one in done)
    print("\na limit missed" if bad else "\nlimits kept")
    return int(bad and not wish.tiny)


def _table(done: Sequence[Outcome]) -> str:
    lines = [
        "| marks laid out | presses | fell | marks | ok | doubtful | missing"
        " | ok, 50 um off (wanted 0) | ok, 5 sd off | coverage % |",
        "|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|",
    ]
    for layout in [*sorted({one.layout for one in done}), "all"]:
        some = [one for one in done if layout in (one.layout, "all")]
        statuses = [status for one in some for status in one.statuses]
        counts = [statuses.count(status) for status in ("ok", "doubtful", "missing")]
        within, values = (sum(one.within[k] for one in some) for k in (0, 1))
        cells = [
            len(some),
            sum(bool(one.fell) for one in some),
            len(statuses),
            *counts,
            sum(len(one.wrong) for one in some),
            sum(len(one.far) for one in some),
            f"{100.0 * within / max(values, 1):.1f}",
        ]
        lines.append(f"| {layout} | " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines)
