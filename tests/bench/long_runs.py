"""Long runs: what each frame of 1,000, 10,000 and 100,000 costs, and the memory they take.

Frames of 240 x 320 pixels with three marks, as files of their own (links to a few drawn
ones), through what `regscan measure` does, in three stages, each run in a process of its own:

    frames    every frame is read, measured and kept in the journal, on all processors
    tables    the journal is read back and both tables are made and written
    answer    levels, moves, verdict, run.json and the report

    python tests/bench/long_runs.py [--tiny] [--most FRAMES]

Wanted: a frame of the longest run costs at most 1.2 x the processor time that it costs in one
a tenth as long, all stages together; the memory of the first stage is flat (its list of frames
aside, 2 kB each); that of the others grows only with the tables. Exit code 1 when that is
missed (never with --tiny, which only shows that it runs).
"""

import argparse
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from folder import Memory, family

ROOT = Path(__file__).parents[2]
DEARER = 1.2  # a frame of the longest run against one of a run a tenth as long
GROWTH_KB = (
    2.0  # a further frame in the first stage: its name, time and place, and its line in the list
)
DIFFERENT = 16
ROWS, COLS = 240, 320


@dataclass(frozen=True)
class Cost:
    """What a stage took for so many frames: by the clock, of all processors, at most of memory."""

    frames: int
    took_s: float
    cpu_s: float
    largest_mb: float

    @property
    def ms(self) -> float:
        """Of all processors, per frame: what neighbours on the machine change least."""
        return 1000.0 * self.cpu_s / self.frames


STAGES = ("frames", "tables", "answer")


def draw(folder: Path, frames: int) -> Path:
    """A folder of so many frames; few are drawn, the others are links to them."""
    sys.path.insert(0, str(ROOT))
    from tests.faults.tiny import draw_tiny_run

    drawn = draw_tiny_run(folder / "drawn", DIFFERENT, DIFFERENT, (ROWS, COLS))
    run = folder / "run"
    run.mkdir()
    for name in ("job.toml", "camera.toml"):
        shutil.copy(drawn / name, run)
    lines = ["frame,time_s,web_m,speed_m_min"]
    for k in range(frames):
        name = f"{k:06d}.png"
        os.link(drawn / f"{k % DIFFERENT:06d}.png", run / name)
        lines.append(f"{name},{k * 0.5},{k * 1.25},150")
    (run / "frames.csv").write_text("\n".join(lines) + "\n")
    return run


class Stages:
    """Times the stages and watches their memory, each from the end of the one before."""

    def __init__(self) -> None:
        self.taken: list[tuple[float, float, float]] = []
        self._begin()

    def _begin(self) -> None:
        self._memory = Memory().__enter__()
        self._start_s, self._start_cpu_s = time.perf_counter(), cpu_s()

    def ends(self) -> None:
        """The stage under way is over."""
        took_s = time.perf_counter() - self._start_s
        self._memory.__exit__()
        self.taken.append((took_s, cpu_s() - self._start_cpu_s, self._memory.largest_mb))
        self._begin()

    def close(self) -> None:
        """No more of them."""
        self._memory.__exit__()


def cpu_s() -> float:
    """Processor time of this process and all below it, also of those that have ended."""
    ticks = 0
    for process in family(os.getpid()):
        try:
            fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        ticks += sum(map(int, fields[11:15]))
    return ticks / os.sysconf("SC_CLK_TCK")


def measure(run: Path, out: Path) -> None:
    """What `regscan measure` does, and one line of JSON with what each stage took."""
    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.journal.journal import Journal
    from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
    from regscan.offsets.table import as_written, write_table
    from regscan.pipeline import Task, decide, inputs_of, measure_frames, save_results
    from regscan.recording.sources import open_recording
    from regscan.report.page import write_report

    job, cameras = read_job(run / "job.toml"), {"": read_camera(run / "camera.toml")}
    out.mkdir()
    stages = Stages()
    recording = open_recording([run])
    journal = Journal(out / "journal.jsonl", {})

    def progress(done: int, total: int) -> None:
        if done == total:
            stages.ends()

    measured = measure_frames(recording, job, cameras, progress, journal)
    write_table(out / "offsets.csv", measured.offsets, OFFSET_COLUMNS)
    write_table(out / "marks.csv", measured.marks, MARK_COLUMNS)
    stages.ends()
    task = Task("measure", job, cameras)
    answer = decide(task, measured.offsets, inputs_of(recording, measured, cameras))
    save_results(out, answer, measured.offsets, measured.marks)
    tables = as_written(measured.offsets, OFFSET_COLUMNS), as_written(measured.marks, MARK_COLUMNS)
    write_report(out, tables)
    stages.ends()
    stages.close()
    print(json.dumps(stages.taken))


def costs(frames: int) -> list[Cost]:
    """What each stage of a run of so many frames takes."""
    with tempfile.TemporaryDirectory() as place:
        run = draw(Path(place), frames)
        own = [sys.executable, __file__, "--measure", str(run), str(Path(place, "out"))]
        done = subprocess.run(own, check=True, stdout=subprocess.PIPE, text=True)
    return [Cost(frames, *one) for one in json.loads(done.stdout)]


def show(runs: list[list[Cost]]) -> bool:
    """Print the table; whether what is wanted was reached."""
    kept = True
    for number, name in enumerate((*STAGES, "together")):
        before: Cost | None = None
        for run in runs:
            row = run[number] if name in STAGES else together(run)
            clock_ms = 1000.0 * row.took_s / row.frames
            line = f"  {name:<9}{row.frames:>8,}{clock_ms:>10.3f}{row.ms:>12.3f}"
            if before is None:
                line += f"{'':>12}{row.largest_mb:>9.0f}"
            else:
                # The processors' clock ticks each 10 ms: a stage may end before it has.
                ratio = row.ms / before.ms if before.ms else math.nan
                more_kb = 1024 * (row.largest_mb - before.largest_mb) / (row.frames - before.frames)
                line += f"{ratio:>10.2f} x{row.largest_mb:>9.0f}{more_kb:>13.2f}"
                kept = kept and (name != "together" or ratio <= DEARER)
                kept = kept and (name != "frames" or more_kb <= GROWTH_KB)
            print(line)
            before = row
    return kept


def together(run: list[Cost]) -> Cost:
    """All stages of one run."""
    took_s, cpu_s = sum(c.took_s for c in run), sum(c.cpu_s for c in run)
    return Cost(run[0].frames, took_s, cpu_s, max(c.largest_mb for c in run))


def main() -> int:
    reader = argparse.ArgumentParser()
    reader.add_argument("--tiny", action="store_true")
    reader.add_argument("--most", type=int, default=100_000)
    reader.add_argument("--measure", nargs=2, metavar=("RUN", "OUT"))
    asked = reader.parse_args()
    if asked.measure:
        measure(*map(Path, asked.measure))
        return 0
    lengths = [20, 60] if asked.tiny else [n for n in (1000, 10_000, 100_000) if n <= asked.most]
    runs = [costs(frames) for frames in lengths]
    print(f"frames of {COLS} x {ROWS}, three marks, {os.cpu_count()} processors")
    print("  stage      frames   ms a frame, of the   the line   memory   kB a frame")
    print("                      clock  processors       above       MB         more")
    kept = show(runs) or asked.tiny
    print(f"  limits {DEARER} x together, {GROWTH_KB} kB in frames: {'kept' if kept else 'MISSED'}")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
