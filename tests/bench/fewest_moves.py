"""The plan of fewest moves as presses grow: what is looked at, and time, as ratios.

Seeded presses with two web edges, on both axes, with a reference that may move. Looked at:
shifts of the reference, of all that are possible in its range, and pairs of the choices that
remain on each axis; beside it, what trying every subset of stations at every shift would look
at. Time is given against describing a run of 400 frames of ten stations, which comes before it.

    python tests/bench/fewest_moves.py [--tiny] [--json FILE]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

STATIONS = (4, 6, 8, 10, 12)
STEP_MM = 0.001
REACH_MM = 0.6  # every shift that could help lies within it
WANTED_GROWTH = 20.0  # from 4 stations to 12; three times the stations, squared, is 9
WANTED_SHARE = 1e-3  # of what trying everything would look at, on the largest press


def press(stations: int, seed: int) -> list[list[Any]]:
    """Aims of both axes, reference left out: offsets in part common, edges up to 0.04 mm apart."""
    from regscan.verdict.actuator import Actuator
    from regscan.verdict.aims import Aim

    rng = np.random.default_rng([seed, stations])
    aims = []
    for axis in ("circumferential", "lateral"):
        common = rng.uniform(-0.2, 0.2)
        places = rng.uniform(-0.2, 0.2, stations - 1) + common * (rng.random(stations - 1) < 0.7)
        apart = rng.uniform(0.0, 0.04, stations - 1)
        aims.append(
            [
                Aim(k, f"ink {k}", axis, y, y + d, 0.002, 0.1, 0.075, Actuator(STEP_MM), False)
                for k, (y, d) in enumerate(zip(places, apart, strict=True), 2)
            ]
        )
    return aims


def describing() -> float:
    """Seconds that describing a run of 400 frames of ten stations takes."""
    from bench.setting_up.press import make_press
    from bench.setting_up.rules import job_of, table_from
    from regscan.drift.describe import describe_run

    made = next(p for seed in range(1000) if (p := make_press(seed)).stations == 10)
    job = job_of(made)
    table = table_from(*made.frames(400), job)
    describe_run(table, job)  # once before, so that what is loaded on first use does not count
    start = time.perf_counter()
    describe_run(table, job)
    return time.perf_counter() - start


def measured(stations: int, runs: int, beside: float) -> dict[str, float]:
    """Means over seeded presses. beside: seconds that times are held against."""
    from regscan.verdict.actuator import Actuator
    from regscan.verdict.fewest import _choices, _shifts, best_choices

    reference = Actuator(STEP_MM, 0.03, 0.03)
    shifts, pairs, seconds = [], [], []
    for seed in range(runs):
        aims = press(stations, seed)
        start = time.perf_counter()
        best_choices(aims, [reference, reference], 1)
        seconds.append(time.perf_counter() - start)
        shifts.append(sum(len(_shifts(axis, reference)) for axis in aims))
        pairs.append(np.prod([len(_choices(axis, reference, 1)) for axis in aims]))
    possible = 2 * REACH_MM / STEP_MM + 1
    return {
        "shifts looked at, both axes": float(np.mean(shifts)),
        "pairs of choices": float(np.mean(pairs)),
        "every subset at every shift": 2 * possible * 2.0 ** (stations - 1),
        "time / describing the run": float(np.median(seconds)) / beside,
        "seconds": float(np.median(seconds)),
    }


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tiny", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).parents[1]))
    sizes = STATIONS[:2] if options.tiny else STATIONS
    beside = describing()
    data = {str(k): measured(k, 1 if options.tiny else 20, beside) for k in sizes}
    names = [name for name in next(iter(data.values())) if name != "seconds"]
    print(f"| stations | {' | '.join(names)} |\n|---{'|---' * len(names)}|")
    for size, row in data.items():
        print(f"| {size} | {' | '.join(f'{row[name]:.3g}' for name in names)} |")
    first, last = (data[str(sizes[at])] for at in (0, -1))
    growth = last["seconds"] / first["seconds"]
    print(f"\ntime grows {growth:.1f} times from {sizes[0]} to {sizes[-1]} stations")
    wrong = []
    if growth > WANTED_GROWTH:
        wrong.append("growth")
    looked = last["shifts looked at, both axes"] + last["pairs of choices"]
    if looked > WANTED_SHARE * last["every subset at every shift"]:
        wrong.append("what is looked at")
    print(f"limits: {'missed: ' + ', '.join(wrong) if wrong else 'kept'}")
    if options.json:
        options.json.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return 1 if wrong and not options.tiny else 0


if __name__ == "__main__":
    sys.exit(main())
