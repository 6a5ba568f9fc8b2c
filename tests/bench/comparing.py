"""Two runs compared: how often an unchanged press shows a change, how often a repair is named.

Pairs of runs of the simulator's press with one setting and noise of their own; per noise level
the share of pairs in which any change is claimed (asked: at most 5 %), and per fault and size
the share of pairs, with the fault before and without it now, in which its station is named and
in which any other is.

    python tests/bench/comparing.py [--tiny] [--json FILE]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from regscan.threads import one_each

one_each()  # before numpy comes in

REPAIRS = {
    # Fault before and not now, by its size in um.
    "servo-delay station=2 delay_us={0}": (3, 6, 12),  # 1.67 um for 1 us between 50 and 150 m/min
    "backlash station=3 size_mm=0.0{0:02d}": (10, 20, 40),
    "plate-slip station=4 at_m=300 size_mm=0.0{0:02d}": (5, 10, 20),
    "side-lay-drift station=2 helix_deg=0 size_mm=0.0{0:02d}": (10, 20, 40),
}
WANTED_FALSE = 0.05
WANTED_NAMED = 0.95  # at the largest size of each
SLACK = 2.3  # standard deviations of a share that are put down to chance


def ran(seed: int, *faults: str, level: str = "middle") -> Any:
    """A run as it is compared."""
    from drift.pressed import pressed_table
    from drift.presses import JOB

    from regscan.drift.accepting.compare import Ran
    from regscan.drift.describe import describe_run

    return Ran(describe_run(pressed_table(seed, *faults, level=level)[0], JOB), JOB)


def unchanged(pairs: int) -> dict[str, float]:
    """Share of pairs of an unchanged press that show any change, by noise level."""
    from regscan.drift.accepting.compare import compare_runs
    from regscan.simulator.press.noise import LEVELS

    found = {}
    for level in LEVELS:
        runs = [ran(seed, level=level) for seed in range(2 * pairs)]
        false = [
            bool(compare_runs(a, b).stations) for a, b in zip(runs[::2], runs[1::2], strict=True)
        ]
        found[level] = sum(false) / pairs
    return found


def repaired(pairs: int) -> dict[str, dict[str, float]]:
    """By fault: shares of pairs in which its station is named, and in which others are."""
    from regscan.drift.accepting.compare import compare_runs

    good = [ran(10_000 + k) for k in range(pairs)]
    found = {}
    for text, sizes in REPAIRS.items():
        for size in sizes:
            fault = text.format(size)
            station = int(fault.split("station=")[1].split()[0])
            named = [
                compare_runs(now, ran(20_000 + k, fault)).stations for k, now in enumerate(good)
            ]
            found[fault] = {
                "named": sum(station in one for one in named) / pairs,
                "others": sum(bool(set(one) - {station}) for one in named) / pairs,
                "largest": float(size == sizes[-1]),
            }
    return found


def show(data: dict[str, Any]) -> None:
    """Both tables."""
    print("| noise of an unchanged press | pairs with any change claimed |\n|---|---|")
    for level, share in data["unchanged"].items():
        print(f"| {level} | {share:.1%} |")
    print("\n| repaired | its station named | any other named |\n|---|---|---|")
    for fault, one in data["repaired"].items():
        print(f"| {fault} | {one['named']:.0%} | {one['others']:.1%} |")


def missed(data: dict[str, Any], pairs: int) -> list[str]:
    """The limits that were not kept."""
    most = WANTED_FALSE + SLACK * (WANTED_FALSE * (1.0 - WANTED_FALSE) / pairs) ** 0.5
    lines = [f"{level} noise" for level, share in data["unchanged"].items() if share > most]
    for fault, one in data["repaired"].items():
        if one["others"] > most:
            lines.append(f"others named beside {fault}")
        if one["largest"] and one["named"] < WANTED_NAMED:
            lines.append(f"{fault} not named")
    return lines


def main() -> int:
    """Print the tables; 1 when a limit is missed (never with --tiny)."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--tiny", action="store_true")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).parents[1]))
    pairs, fewer = (2, 1) if given.tiny else (100, 20)
    data = {"unchanged": unchanged(pairs), "repaired": repaired(fewer)}
    show(data)
    if given.json:
        given.json.write_text(json.dumps(data))
    lines = missed(data, fewer)
    print("\n" + ("limits kept" if not lines else "MISSED: " + "; ".join(lines)))
    return 1 if lines and not given.tiny else 0


if __name__ == "__main__":
    sys.exit(main())
