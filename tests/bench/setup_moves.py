"""Setting up a simulated press: regscan's advice against correcting every newest frame.

Seeded presses of six to ten stations, colours up to 3 mm off, true steps and play that are
not the stated ones, print noise, and a camera that shows each station late. Metres are web
until everything prints inside 0.05 mm for good; both rules pay the same web per command.

    python tests/bench/setup_moves.py [--tiny] [--json FILE]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

WANTED_TWO_ROUNDS = 0.95
WANTED_METRES = 0.5
PACES_M = (1.5, 0.5, 3.0)
# Web per command; the first is the one the limits are for,
# on all presses; the others on a quarter of them
LOOKS_M = (0.3048, 12.0, 25.0)  # the naive rule from every newest frame, and from rarer ones


def compare(runs: int) -> dict[str, Any]:
    """Both rules on the same presses, at every pace."""
    from bench.setting_up.press import make_press
    from bench.setting_up.rules import LONGEST_M, naive, with_advice

    data: dict[str, Any] = {}
    for pace in PACES_M:
        seeds = range(runs if pace == PACES_M[0] else max(runs // 4, 1))
        rows = {"regscan": [with_advice(make_press(seed), pace) for seed in seeds]}
        for look in LOOKS_M:
            rows[f"naive, look every {look:g} m"] = [
                naive(make_press(seed), pace, look) for seed in seeds
            ]
        data[f"{pace:g}"] = {name: summary(found, LONGEST_M) for name, found in rows.items()}
    return data


def summary(found: list[Any], longest_m: float) -> dict[str, float]:
    """Means and shares; a set-up that never ends counts with the web it was given."""
    metres = [longest_m if one.inside_m is None else one.inside_m for one in found]
    return {
        "inside after two rounds": float(np.mean([one.after_two for one in found])),
        "never inside": float(np.mean([one.inside_m is None for one in found])),
        "metres, middle": float(np.median(metres)),
        "metres, mean": float(np.mean(metres)),
        "commands, mean": float(np.mean([one.commands for one in found])),
        "wrong way": int(sum(one.wrong for one in found)),
    }


def show(data: dict[str, Any]) -> None:
    """One table per pace, in markdown."""
    for pace, rows in data.items():
        names = list(next(iter(rows.values())))
        print(f"\nweb per command {pace} m\n\n| rule | {' | '.join(names)} |")
        print(f"|---{'|---' * len(names)}|")
        for rule, row in rows.items():
            print(f"| {rule} | {' | '.join(f'{row[name]:.3g}' for name in names)} |")


def missed(data: dict[str, Any]) -> list[str]:
    """Which limits are not kept at the first pace."""
    rows = data[f"{PACES_M[0]:g}"]
    ours, theirs = rows["regscan"], rows[f"naive, look every {LOOKS_M[0]:g} m"]
    wrong = []
    if ours["inside after two rounds"] < WANTED_TWO_ROUNDS:
        wrong.append("inside after two rounds")
    if ours["metres, mean"] > WANTED_METRES * theirs["metres, mean"]:
        wrong.append("metres")
    if any(data[pace]["regscan"]["wrong way"] for pace in data):
        wrong.append("moves in the wrong direction")
    return wrong


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tiny", action="store_true")
    parser.add_argument("--json", type=Path)
    options = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).parents[1]))
    data = compare(3 if options.tiny else 200)
    show(data)
    wrong = missed(data)
    print(f"\nlimits: {'missed: ' + ', '.join(wrong) if wrong else 'kept'}")
    if options.json:
        options.json.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return 1 if wrong and not options.tiny else 0


if __name__ == "__main__":
    sys.exit(main())
