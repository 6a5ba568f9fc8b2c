"""regscan beside the general libraries and the Cramer-Rao bound, in one run on one core.

Single discs of known place (tests/outside/drawn.py) under several looks. The libraries are
handed a patch with the disc in its middle and told all but its place; regscan gets the same
pixels as a frame and has to find the mark first. Prints a table per look in markdown:

    python tests/bench/locate.py [--tiny] [--json FILE]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import os
import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from regscan.threads import one_each

MS_PER_MARK = 1.0


def one_core() -> None:
    """Bind to one processor, threads of the number libraries included; before numpy loads."""
    one_each()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})


@dataclass(frozen=True)
class Size:
    """How much is done: side x side sub-pixel phases with `repeats` draws of noise each for
    regscan, of which fast libraries get `fast` trials and slow ones `slow`."""

    side: int
    repeats: int
    fast: int
    slow: int
    scenes: int


FULL, TINY = Size(8, 32, 512, 30, 99), Size(2, 2, 4, 2, 2)


def compare(size: Size) -> dict[str, Any]:
    """Print all tables; the same as plain data, by scene."""
    from outside.rivals import SLOW, available

    from bench.locating.rows import ours, theirs
    from bench.locating.scene import SCENES, patches_of
    from bench.locating.table import missed, table_of

    rivals, absent = available()
    print(f"not installed, left out: {', '.join(absent) or 'none'}")
    data = {}
    for scene in SCENES[: size.scenes]:
        patches = patches_of(scene, size.side, size.repeats)
        fast, slow = (patches[:: max(1, len(patches) // n)] for n in (size.fast, size.slow))
        rows = [ours(scene, patches)]
        rows += [theirs(n, r, scene, slow if n in SLOW else fast) for n, r in rivals.items()]
        wrong = missed(scene, rows)
        print(table_of(scene, rows))
        print(f"\nregscan's limits: {'; '.join(wrong) or 'kept'}", flush=True)
        data[scene.title] = {"rows": [asdict(row) for row in rows], "missed": wrong}
    return data


def speed(repeats: int) -> dict[str, Any]:
    """Print the time per mark of frames with six marks."""
    from bench.locating.speed import milliseconds_per_mark

    took = milliseconds_per_mark(repeats)
    print(f"\nregscan, colour frames with six marks, ms per mark (wanted {MS_PER_MARK}):")
    for name, ms in took.items():
        print(f"  {name:16} {ms:.2f}")
    slow = [f"{ms:.2f} ms per mark" for ms in took.values() if ms > MS_PER_MARK]
    return {"rows": took, "missed": slow}


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tiny", action="store_true", help="only show that it runs")
    parser.add_argument("--json", type=Path, help="also write everything as JSON")
    asked = parser.parse_args()
    one_core()
    sys.path.insert(0, str(Path(__file__).parents[1]))
    import cv2

    cv2.setNumThreads(1)
    data = compare(TINY if asked.tiny else FULL)
    data["six marks in a frame"] = speed(3 if asked.tiny else 41)
    if asked.json:
        asked.json.write_text(json.dumps(data, indent=1))
    kept = not any(part["missed"] for part in data.values())
    return 0 if asked.tiny or kept else 1


if __name__ == "__main__":
    sys.exit(main())
