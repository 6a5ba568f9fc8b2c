"""The monitor: run lengths of its charts against published ones, false alarms, delays, warnings.

Four tables in markdown: the bare charts on independent noise against the average run lengths
of Lucas and Crosier (1982) and Lucas and Saccucci (1990); false alarms of the whole monitor, which
learns its noise from the run, on calm runs; its delay at shifts of 1, 2 and 3 standard
deviations; and the early warnings on runs of the simulator's bank, against their truth.

    python tests/bench/monitoring.py [--tiny] [--json FILE]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from regscan.threads import one_each

one_each()  # before numpy comes in

PUBLISHED = {
    "cusum": {0.0: 168.0, 1.0: 8.38, 2.0: 3.34, 3.0: 2.19},  # k 0.5, h 4
    (0.5, 3.071): {0.0: 500.0, 1.0: 17.5, 2.0: 3.63, 3.0: 1.93},  # weight, width
    (0.03, 2.437): {0.0: 500.0, 1.0: 12.6, 2.0: 5.99, 3.0: 4.03},
}
SHIFTS_SD = (1.0, 2.0, 3.0)
CHANNELS = 18  # ten stations, one of them the reference, two axes
CALM_FRAMES = 10_000.0
WANTED_COVERED = 0.8
WANTED_FALSE = 3.0  # times as many false alarms as asked for
WANTED_RUN_LENGTH = 0.05


def bare(tiny: bool) -> dict[str, Any]:
    """Mean run lengths of the bare charts beside the published ones."""
    from bench.watching.charted import chart_of, run_length

    series = 200 if tiny else 10_000
    found: dict[str, Any] = {}
    for name, published in PUBLISHED.items():
        for shift, value in published.items():
            mine = run_length(chart_of(name, series), shift, series, 600 if tiny else 6_000)
            found[f"{name} at {shift:g}"] = {"found": mine, "published": value}
    return found


def whole(tiny: bool) -> dict[str, Any]:
    """False alarms and delays of the whole monitor, on independent and on wandering noise."""
    from bench.watching.charted import WANDERS, delays, false_alarms

    found: dict[str, Any] = {}
    for wander in WANDERS:
        frames, rounds = (1_500, 1) if tiny else (40_000, 8)
        one = {"false": false_alarms(wander, CHANNELS, frames, CALM_FRAMES)}
        for shift in SHIFTS_SD[-1:] if tiny else SHIFTS_SD:
            waits = delays(wander, shift, CHANNELS, rounds, CALM_FRAMES)
            one[f"delay at {shift:g}"] = float(waits.mean())
        found[wander] = one
    return found


def warned(tiny: bool) -> dict[str, Any]:
    """Early warnings on the bank: exits foreseen, leads, how often the interval was right."""
    from bench.watching.warned import GRADUAL, judge, summary

    # Not the seeds that anything was chosen by.
    seeds = range(2000, 2002 if tiny else 2060)
    return {
        "gradual faults": summary(judge(seeds, GRADUAL)),
        "no fault": summary(judge(seeds, ("",))),
    }


def theory() -> dict[float, float]:
    """Run lengths that independent noise would have with the monitor's own cusum limit."""
    from regscan.drift.monitor.record import MonitorRules
    from regscan.drift.monitor.run_lengths import cusum_limit_for, cusum_run_length
    from regscan.drift.monitor.shift import CHARTS

    slack = MonitorRules().cusum_slack_sd
    limit = cusum_limit_for(slack, CALM_FRAMES * CHARTS * CHANNELS)
    return {shift: cusum_run_length(slack, limit, shift) for shift in SHIFTS_SD}


def show(data: dict[str, Any]) -> None:
    """The four tables."""
    print("| bare chart, shift in sd | frames to a signal | published |\n|---|---|---|")
    for name, one in data["bare"].items():
        print(f"| {name} | {one['found']:.2f} | {one['published']:g} |")
    print(f"\nWhole monitor, {CHANNELS} channels, one false alarm in {CALM_FRAMES:g} frames asked")
    print("\n| noise | false alarms per 10,000 frames | mean delay at 1, 2, 3 sd |\n|---|---|---|")
    asked = ", ".join(f"{value:.1f}" for value in data["theory"].values())
    print(f"| cusum alone, independent, level known (computed) | - | {asked} |")
    for name, one in data["whole"].items():
        waits = [f"{value:.1f}" for key, value in one.items() if key.startswith("delay")]
        print(f"| {name} | {one['false']:.2f} | {', '.join(waits)} |")
    print("\n| bank runs | " + " | ".join(data["warned"]["no fault"]) + " |")
    print("|---|" + "---|" * len(data["warned"]["no fault"]))
    for name, one in data["warned"].items():
        print(f"| {name} | " + " | ".join(_shown(value) for value in one.values()) + " |")


def _shown(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:g}" if float(value).is_integer() else f"{value:.2f}"


def missed(data: dict[str, Any]) -> list[str]:
    """The limits that were not kept."""
    lines = []
    for name, one in data["bare"].items():
        if abs(one["found"] / one["published"] - 1.0) > WANTED_RUN_LENGTH:
            lines.append(f"run length of {name}")
    for name, one in data["whole"].items():
        if one["false"] > WANTED_FALSE * 10_000 / CALM_FRAMES:
            lines.append(f"false alarms, {name} noise")
    covered = data["warned"]["gradual faults"]["interval right"]
    if covered is None or covered < WANTED_COVERED:
        lines.append("intervals of the early warnings")
    return lines


def main() -> int:
    """Print the tables; 1 when a limit is missed (never with --tiny)."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--tiny", action="store_true")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).parents[1]))
    data = {
        "bare": bare(given.tiny),
        "theory": theory(),
        "whole": whole(given.tiny),
        "warned": warned(given.tiny),
    }
    show(data)
    if given.json:
        given.json.write_text(json.dumps({**data, "theory": list(data["theory"].items())}))
    lines = missed(data)
    print("\n" + ("limits kept" if not lines else "MISSED: " + "; ".join(lines)))
    return 1 if lines and not given.tiny else 0


if __name__ == "__main__":
    sys.exit(main())
