"""Run: all families on all cores, and the table of what came of it."""

import argparse
import os
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from bench.families.case import Family
from bench.families.catalogue import FAMILIES
from bench.families.figures import figures_of
from bench.families.judged import Judged, judged
from bench.families.table import as_json, markdown, marks_csv, reasons

FRAMES = 100  # from 40 a ratio to the ideal fit is known to 4-6 %, from 100 to 3 %
_AT_ONCE = 6  # frames per errand of a process


def main(arguments: Sequence[str]) -> int:
    """Print the table; 1 when a limit is missed at full size."""
    wish = _wish(arguments)
    frames = 1 if wish.tiny else wish.frames
    families = [f for f in FAMILIES if not wish.only or any(word in f.name for word in wish.only)]
    start = time.perf_counter()
    done = measured(families, frames, wish.workers, wish.keep)
    lines = [figures_of(family, done[family.name]) for family in families]
    took = time.perf_counter() - start
    print(markdown(lines))
    print(reasons(lines))
    print(f"\n{frames} frames per family, {took:.0f} s on {wish.workers} processes")
    if wish.out:
        wish.out.mkdir(parents=True, exist_ok=True)
        (wish.out / "families.md").write_text(f"{markdown(lines)}\n{reasons(lines)}\n")
        (wish.out / "families.json").write_text(as_json(lines))
        (wish.out / "marks.csv").write_text(marks_csv(done))
    return 0 if wish.tiny or not any(line.missed for line in lines) else 1


def measured(
    families: Sequence[Family], frames: int, workers: int, keep: Path | None = None
) -> dict[str, list[Judged]]:
    """Every frame judged, by family; tells how a family came out as soon as it is done."""
    errands = [
        (family.name, tuple(range(first, min(first + _AT_ONCE, frames))), keep)
        for family in families
        for first in range(0, frames, _AT_ONCE)
    ]
    done: dict[str, list[Judged]] = {family.name: [] for family in families}
    with ProcessPoolExecutor(workers, initializer=_one_thread) as pool:
        for (name, *_), some in zip(errands, pool.map(_errand, errands), strict=True):
            done[name] += some
            if len(done[name]) == frames:
                missed = figures_of(_family(name), done[name]).missed
                print(f"{name}: {'; '.join(missed) or 'kept'}", file=sys.stderr, flush=True)
    return done


Errand = tuple[str, tuple[int, ...], Path | None]


def _errand(errand: Errand) -> list[Judged]:
    name, numbers, keep = errand
    return [judged(_family(name), number, keep) for number in numbers]


def _family(name: str) -> Family:
    return next(family for family in FAMILIES if family.name == name)


def _one_thread() -> None:
    """Times are of one core: no library may take another."""
    import cv2

    cv2.setNumThreads(1)


def _wish(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="The family bench; see tests/bench/families")
    parser.add_argument("--tiny", action="store_true", help="one frame of each family")
    parser.add_argument("--frames", type=int, default=FRAMES, help="per family")
    parser.add_argument("--only", nargs="*", default=[], help="families whose names hold a word")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, help="folder for families.md, .json and marks.csv")
    parser.add_argument("--keep", type=Path, help="folder that keeps what measuring has no part in")
    return parser.parse_args(arguments)
