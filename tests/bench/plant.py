"""What a plant of many presses needs, from what one core and one scheduler are measured to do.

Frames of 1280 x 1024 in colour with six marks, as PNG, JPEG and uncompressed; processor time
(not the clock's, which neighbours disturb) to decode and to measure one; what a row costs as
Parquet; what a chunk costs the scheduler of a Dask cluster with two workers on this machine.

    python tests/bench/plant.py [--tiny]

Prints the tables of docs/how/plant.md.
"""

import json
import operator
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

from regscan.threads import one_each

one_each()  # before numpy comes in: as the command does

REPEAT_M, SPEED_M_MIN = 0.3048, 150.0
HOURS = 16  # two shifts
CASES = (  # name, presses, cameras, share of repeats that are looked at
    ("one press, a camera over each of 8 stations, every repeat", 1, 8, 1.0),
    ("40 presses, a camera over each of 8 stations, every repeat", 40, 8, 1.0),
    ("40 presses, one camera at the end, every repeat", 40, 1, 1.0),
    ("40 presses, one camera at the end, every tenth repeat", 40, 1, 0.1),
)
KINDS = {"PNG": ".png", "JPEG, quality 90": ".jpg", "uncompressed": ".bmp"}


@dataclass(frozen=True)
class Cost:
    """One kind of file: MB a frame, processor seconds to decode and to measure one."""

    megabytes: float
    decode_s: float
    measure_s: float


def frames_per_s(presses: int, cameras: int, share: float) -> float:
    return presses * cameras * share * SPEED_M_MIN / 60.0 / REPEAT_M


def folder_of(kind: str, drawn: Path, place: Path) -> Path:
    import cv2

    folder = place / kind[:4]
    folder.mkdir()
    for path in sorted(drawn.glob("*.png")):
        quality = [cv2.IMWRITE_JPEG_QUALITY, 90] if KINDS[kind] == ".jpg" else []
        cv2.imwrite(str(folder / (path.stem + KINDS[kind])), cv2.imread(str(path)), quality)
    for name in ("job.toml", "camera.toml"):
        (folder / name).write_bytes((drawn / name).read_bytes())
    return folder


def cost_of(folder: Path, frames: int) -> tuple[Cost, list[bytes]]:
    """One core: frame after frame, as a worker does, the first ones left out of the time."""
    import cv2
    from folder import opened

    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.journal.record import Recorder
    from regscan.measuring import FrameMeasurer
    from regscan.recording.sources import read_frame

    cv2.setNumThreads(1)
    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    cameras = {"": camera, **{post.name: camera for post in job.press.cameras}}
    sources = opened(folder, frames).sources
    measure = Recorder(partial(FrameMeasurer, job, cameras))
    records = [measure(source) for source in sources[:8]]
    start = time.process_time()
    records += [measure(source) for source in sources[8:]]
    measured = time.process_time()
    for source in sources[8:]:
        read_frame(source)
    decoded = time.process_time()
    count = len(sources) - 8
    size = sum(source.path.stat().st_size for source in sources) / len(sources) / 1e6
    return Cost(size, (decoded - measured) / count, (measured - start) / count), records


def parquet_bytes(records: list[bytes], place: Path) -> float:
    """Bytes a frame in both Parquet tables, of a run of some length.

    Few frames were drawn, and numbers that come again take no room: each is moved a little.
    """
    import numpy as np

    from regscan.journal.record import decoded
    from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
    from regscan.offsets.parquet import write_parquet
    from regscan.offsets.rows import table_of

    read = [decoded(record) for record in records]
    rng, total = np.random.default_rng(1), 0
    for name, columns in (("offsets", OFFSET_COLUMNS), ("marks", MARK_COLUMNS)):
        numbered = [
            dict(row, frame=f"{frame:06d}.png")
            for frame, record in enumerate(read)
            for row in getattr(record, name)
        ]
        table = table_of(numbered, columns)
        for column in columns:
            if column.dtype == "f8":
                table[column.name] *= 1.0 + 0.01 * rng.normal(size=len(table))
        write_parquet(place / f"{name}.parquet", table, columns)
        total += (place / f"{name}.parquet").stat().st_size
    return total / len(records)


def scheduler_cost(place: Path, chunks: int, record: int) -> tuple[float, float]:
    """Processor seconds that one chunk of frames costs (the scheduler, this end)."""
    import psutil

    from regscan.cluster.over import map_on_cluster
    from regscan.measuring import FOLLOWED
    from regscan.recording.frame import FrameInfo
    from regscan.recording.sources import FrameSource

    file = place / "scheduler.json"
    quiet = {"cwd": place, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    asked = ["--scheduler-file", str(file), "--no-dashboard"]
    run = [sys.executable, "-m"]
    host = ["--host", "127.0.0.1", "--port", "0"]
    processes = [subprocess.Popen([*run, "distributed.cli.dask_scheduler", *asked, *host], **quiet)]
    try:
        while not file.exists() or not file.read_text():
            time.sleep(0.1)
        worker = [*run, "distributed.cli.dask_worker", *asked, "--nthreads", "1", "--no-nanny"]
        processes += [subprocess.Popen(worker, **quiet) for _ in range(2)]
        address = json.loads(file.read_text())["address"]
        # Nothing is measured: each thing's name comes back, as long as a frame's record.
        thing = FrameSource(FrameInfo("r" * record, 0), Path(__file__))
        work = partial(operator.attrgetter, "info.name")
        list(map_on_cluster(address, work, [thing] * 40 * FOLLOWED, FOLLOWED))
        scheduler = psutil.Process(processes[0].pid)
        before, here = sum(scheduler.cpu_times()[:2]), time.process_time()
        list(map_on_cluster(address, work, [thing] * chunks * FOLLOWED, FOLLOWED))
        return (
            (sum(scheduler.cpu_times()[:2]) - before) / chunks,
            (time.process_time() - here) / chunks,
        )
    finally:
        for process in reversed(processes):
            process.kill()
            process.wait()


def table(head: list[str], rows: list[list[str]]) -> None:
    for row in (head, ["---"] * len(head), *rows):
        print("| " + " | ".join(row) + " |")
    print()


def show(costs: dict[str, Cost], result_bytes: float, chunk: tuple[float, float]) -> None:
    cpu = next(
        line.partition(": ")[2].strip()
        for line in Path("/proc/cpuinfo").read_text().splitlines()
        if line.startswith("model name")
    ) if Path("/proc/cpuinfo").exists() else platform.processor()  # fmt: skip
    print(
        f"{cpu}, {os.cpu_count()} processors, Python {platform.python_version()}, {date.today()}\n"
    )
    table(
        ["file", "MB a frame", "decode, ms", "measure with decode, ms", "frames a second and core"],
        [
            [kind, f"{c.megabytes:.2f}", f"{1e3 * c.decode_s:.1f}", f"{1e3 * c.measure_s:.1f}",
             f"{1 / c.measure_s:.0f}"]
            for kind, c in costs.items()
        ],
    )  # fmt: skip
    print(f"Results: {result_bytes:.0f} bytes a frame as Parquet (six colours, both tables).\n")
    from regscan.measuring import FOLLOWED

    scheduler, asker = chunk
    print(
        f"A chunk of {FOLLOWED} frames costs the scheduler {1e3 * scheduler:.2f} ms and the machine"
        f" that asks {1e3 * asker:.2f} ms: {FOLLOWED / scheduler:.0f} frames a second at most for"
        f" a scheduler, {FOLLOWED / asker:.0f} for one that asks"
        f" ({1e3 * (scheduler + asker):.2f} ms together).\n"
    )
    head = ["plant", "file", "frames/s", "cores", "network, Gbit/s", "frames kept, TB a day"]
    head.append("results, GB a day")
    rows = []
    for name, *plant in CASES:
        rate = frames_per_s(*plant)
        for kind, c in costs.items():
            day = rate * HOURS * 3600
            rows.append([
                name, kind, f"{rate:.0f}", f"{rate * c.measure_s:.1f}",
                f"{8e-3 * rate * c.megabytes:.2f}", f"{day * c.megabytes / 1e6:.2f}",
                f"{day * result_bytes / 1e9:.1f}",
            ])  # fmt: skip
    table(head, rows)


def main() -> None:
    tiny = "--tiny" in sys.argv
    sys.path.insert(0, str(Path(__file__).parent))
    from folder import draw

    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        drawn = place / "drawn"
        drawn.mkdir()
        draw(drawn)
        costs, records = {}, []
        for kind in KINDS:
            costs[kind], found = cost_of(folder_of(kind, drawn, place), 16 if tiny else 136)
            records = records or found
        many = [record for _ in range(1 if tiny else 20) for record in records]
        result = parquet_bytes(many, place)
        record = round(sum(map(len, records)) / len(records))
        chunk = scheduler_cost(place, 20 if tiny else 1500, record)
    show(costs, result, chunk)


if __name__ == "__main__":
    main()
