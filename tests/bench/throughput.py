"""Throughput: frames a second of every kind of file, beside only decoding them, and from memory.

1280 x 1024 colour with six marks, on all processors through what `regscan measure` runs,
decoding and measuring in turns in one run; then what one processor spends on each stage of a
frame that is in memory, what a frame costs where a camera over every station takes its turn, and
whether following marks changes where they are found.

    python tests/bench/throughput.py [--tiny]

Wanted: PNG and JPEG at most 1.15 x the time of decoding whole frames by the same library; from
memory, or else uncompressed files, at least 300 frames a second on two processors; marks followed
within 0.002 px of marks looked for anew.
Exit code 1 when one is missed (never with --tiny, which only shows that it runs).
"""

import multiprocessing
import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from pathlib import Path
from threading import Barrier

from folder import draw, in_turns, measure, opened, seconds
from plant import KINDS, REPEAT_M, SPEED_M_MIN, folder_of

RATIO = 1.15
PER_CORE = 150.0  # frames a second from memory, or from uncompressed files
APART_PX = 0.002
STATIONS = 8  # a camera over each
PRESS = STATIONS * SPEED_M_MIN / 60.0 / REPEAT_M  # frames a second
PROCESSORS = os.cpu_count() or 1


class Stages:
    """Processor seconds spent in named functions, the rest of a frame's time being `other`."""

    def __init__(self) -> None:
        self.taken: dict[str, float] = {}

    def watch(self, owner: object, name: str, stage: str) -> None:
        """Count what a function or method takes as a stage of that name."""
        inner: Callable = getattr(owner, name)
        self.taken[stage] = 0.0

        @wraps(inner)
        def timed(*given, **named):
            start = time.process_time()
            try:
                return inner(*given, **named)
            finally:
                self.taken[stage] += time.process_time() - start

        setattr(owner, name, timed)


class InMemory:
    """Frames of a folder, read, and what measures them: so many cameras took them in turns."""

    def __init__(self, folder: Path, frames: int, cameras: int = 1) -> None:
        import cv2

        from regscan import measuring
        from regscan.camera.read import read_camera
        from regscan.job.job import CameraPost
        from regscan.job.read import read_job
        from regscan.journal import record

        cv2.setNumThreads(1)
        job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
        last = job.press.stations[-1].number
        posts = tuple(CameraPost(f"{number}", last, 1.0) for number in range(cameras))
        job = replace(job, press=replace(job.press, cameras=posts))
        block = measuring.block_in_turns(cameras)
        measurer = measuring.FrameMeasurer(job, {post.name: camera for post in posts}, block)
        sources = [
            replace(one, info=replace(one.info, camera=posts[k % cameras].name))
            for k, one in enumerate(opened(folder, frames + block).sources)
        ]
        kept = {source.path: measuring.read_frame(source).pixels for source in sources}
        measuring.read_frame = lambda source, wanted=None: measuring.Frame(
            source.info, kept[source.path]
        )
        self._first, self._rest = sources[:block], sources[block:]
        self._encoded = lambda source: record.encoded(measurer(source), None)

    def begin(self) -> None:
        """Measure a block, as what is kept between frames is made in the first of them."""
        for source in self._first:
            self._encoded(source)

    def go_on(self) -> None:
        """Measure the frames, as a worker goes from one to the next."""
        for source in self._rest:
            self._encoded(source)


def stages(folder: Path, frames: int) -> list[tuple[str, float]]:
    """(stage, ms a frame) of one processor."""
    from regscan import measuring
    from regscan.journal import record
    from regscan.marks import chosen
    from regscan.marks.finding import search

    watched = Stages()
    watched.watch(search.Search, "view", "even light and ink covers, coarsely")
    watched.watch(search.Search, "follow", "marks found near where they were")
    watched.watch(search.Search, "choose", "marks looked for anew, one frame in 32")
    watched.watch(chosen, "measure_alone", "marks fitted and judged")
    watched.watch(measuring, "measure_offsets", "offsets with their doubt")
    watched.watch(record, "encoded", "the frame's record for tables and journal")
    run = InMemory(folder, frames)
    run.begin()
    before = dict(watched.taken)
    start = time.process_time()
    run.go_on()
    whole = time.process_time() - start
    taken = {stage: watched.taken[stage] - before[stage] for stage in watched.taken}
    taken["other"] = whole - sum(taken.values())
    return [(stage, 1000.0 * taken[stage] / frames) for stage in taken]


def in_turns_ms(folder: Path, frames: int, cameras: int) -> float:
    """Processor ms a frame in memory where so many cameras take turns."""
    run = InMemory(folder, frames, cameras)
    run.begin()
    start = time.process_time()
    run.go_on()
    return 1000.0 * (time.process_time() - start) / frames


def all_at_once(folder: Path, frames: int) -> float:
    """Frames a second of all processors, each with so many frames in memory."""
    context = multiprocessing.get_context("spawn")
    ready, seconds_each = context.Barrier(PROCESSORS), context.Queue()
    crew = [
        context.Process(target=_one_of_many, args=(folder, frames, ready, seconds_each))
        for _ in range(PROCESSORS)
    ]
    for one in crew:
        one.start()
    slowest = max(seconds_each.get() for _ in crew)
    for one in crew:
        one.join()
    return PROCESSORS * frames / slowest


def _one_of_many(
    folder: Path, frames: int, ready: Barrier, seconds_each: "multiprocessing.Queue[float]"
) -> None:
    run = InMemory(folder, frames)
    run.begin()
    ready.wait()
    start = time.perf_counter()
    run.go_on()
    seconds_each.put(time.perf_counter() - start)


def apart_px(folder: Path) -> float:
    """The most that a mark's place differs between being followed and looked for anew."""
    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.marks.finder import MarkFinder
    from regscan.recording.sources import read_frame

    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    finder = MarkFinder(job, camera)
    most, before = 0.0, []
    for source in opened(folder, 16).sources:
        frame = read_frame(source)
        anew = finder.measure(frame)
        before = finder.follow(frame, before) or anew
        for one, other in zip(before, anew, strict=True):
            most = max(most, abs(one.row_px - other.row_px), abs(one.col_px - other.col_px))
    return most


def of_kind(kind: str, folder: Path, frames: int, rounds: int) -> tuple[float, float]:
    """Print the line of one kind of file: (times its decoding, frames a second)."""
    recording = opened(folder, frames)
    seconds(lambda: measure(folder, opened(folder, 24)))  # byte code and file caches
    decode_s, measure_s, ratio = in_turns(folder, recording, rounds)
    rate = frames / measure_s
    print(
        f"  {kind:<17}{1000 * decode_s / frames:6.1f} ms{1000 * measure_s / frames:7.1f} ms"
        f"{ratio:7.2f} x{rate:10.0f}{rate / PROCESSORS:10.0f}{rate / PRESS:9.1f} x"
    )
    return ratio, rate


def show_stages(folder: Path, frames: int) -> None:
    """Print what one processor spends on each stage of a frame."""
    print("one processor, a frame in memory, marks followed")
    spent = stages(folder, frames)
    whole = sum(ms for _, ms in spent)
    for stage, ms in spent:
        print(f"  {stage:<45}{ms:6.2f} ms{100 * ms / whole:5.0f} %")
    print(f"  {'together':<45}{whole:6.2f} ms{1000 / whole:7.0f} frames/s")


def main() -> int:
    tiny = "--tiny" in sys.argv[1:]
    frames, rounds = (24, 1) if tiny else (1000, 3)
    with tempfile.TemporaryDirectory(dir=shared_memory()) as name:
        place = Path(name)
        drawn = place / "drawn"
        drawn.mkdir()
        draw(drawn)
        print(f"1280 x 1024, six marks, {PROCESSORS} processors, {frames} frames of each kind")
        print(f"real time: {STATIONS} stations at {SPEED_M_MIN:g} m/min are {PRESS:.1f} frames/s")
        print("  file               decode   measure    ratio  frames/s  per core  real time")
        each = {
            kind: of_kind(kind, folder_of(kind, drawn, place), frames, rounds) for kind in KINDS
        }
        show_stages(drawn, 16 if tiny else 240)
        turns = [in_turns_ms(drawn, 16 if tiny else 256, cameras) for cameras in (1, STATIONS)]
        from_memory = all_at_once(drawn, 16 if tiny else 240)
        apart = apart_px(drawn)
    print(
        f"of {STATIONS} cameras that take turns, in memory: {turns[1]:.2f} ms a frame,"
        f" {turns[1] / turns[0]:.2f} x that of one camera"
    )
    print(f"all processors at once, frames in memory: {from_memory:.0f} frames/s")
    print(f"followed against looked for anew: {apart:.5f} px apart at most")
    plain = max(rate for kind, (_, rate) in each.items() if KINDS[kind] == ".bmp")
    wanted = PER_CORE * PROCESSORS
    kept = {
        **{
            f"{RATIO} x of decoding {kind}": ratio <= RATIO
            for kind, (ratio, _) in each.items()
            if KINDS[kind] != ".bmp"
        },
        f"{wanted:g} frames/s from memory or uncompressed": max(from_memory, plain) >= wanted,
        f"{APART_PX} px": apart <= APART_PX,
    }
    for limit, one in kept.items():
        print(f"  limit {limit}: {'kept' if one else 'MISSED'}")
    return 0 if all(kept.values()) or tiny else 1


def shared_memory() -> str | None:
    """A folder that lies in memory, so that no disk is timed; None where there is none."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


if __name__ == "__main__":
    sys.exit(main())
