"""How long a user waits for `regscan --help` and for a mistake in the job file.

Both against `python -c "import typer"`, in turns in one run, because only the
ratio means something on a shared machine. Wanted: at most 3 x.

    python tests/bench/startup.py [--tiny]
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

LIMIT = 3.0
SAMPLE_JOB = Path(__file__).parents[2] / "sample_images" / "ramp" / "job.toml"


def with_byte_code_in(folder: Path) -> dict[str, str]:
    """An environment in which byte code is kept, as it is for an installed package."""
    kept = {key: text for key, text in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "PYTHONPYCACHEPREFIX": str(folder)}


def seconds(arguments: list[str], expected: int, environment: dict[str, str]) -> float:
    """Wall time of one run of Python, from nothing to its exit code."""
    command = [sys.executable, *arguments]
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False, env=environment)
    took = time.perf_counter() - start
    assert done.returncode == expected, (arguments, done.returncode, done.stderr)
    return took


def measured(folder: Path, rounds: int) -> dict[str, float]:
    """Median seconds of each case, the cases taken in turns."""
    job = folder / "job.toml"
    # A whole job with one slip in it, so that every table of it is read.
    job.write_text(SAMPLE_JOB.read_text().replace('reference = "black"', 'reference = "blak"'))
    cases = {
        "import typer": (["-c", "import typer"], 0),
        "regscan --help": (["-m", "regscan", "--help"], 0),
        "a failing job": (["-m", "regscan", "measure", str(folder), "--job", str(job)], 3),
    }
    environment = with_byte_code_in(folder / "byte-code")
    times: dict[str, list[float]] = {name: [] for name in cases}
    for _ in range(rounds + 1):
        for name, case in cases.items():
            times[name].append(seconds(*case, environment))
    # The first round fills caches of files and byte code.
    return {name: statistics.median(values[1:]) for name, values in times.items()}


def main() -> int:
    """Print medians and ratios; 1 when a ratio is over the limit (never with --tiny)."""
    tiny = "--tiny" in sys.argv[1:]
    rounds = 3 if tiny else 21
    with tempfile.TemporaryDirectory() as folder:
        times = measured(Path(folder), rounds)
    base = times["import typer"]
    print(f"start-up, median of {rounds} runs in turns")
    for name, took in times.items():
        print(f"  {name:15} {1000 * took:6.0f} ms   {took / base:4.2f} x")
    worst = max(times.values()) / base
    print(f"  limit {LIMIT} x: {'kept' if worst <= LIMIT else 'MISSED'}")
    return 0 if tiny or worst <= LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())
