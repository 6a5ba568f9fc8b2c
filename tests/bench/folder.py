"""A folder of frames: measuring it against only decoding it, and the memory it takes.

1280 x 1024 colour PNG frames with six marks, on all processors, decoding and measuring in
turns in one run, both over the same kind of processes. Wanted: measuring takes at most
1.5 x the time of decoding, and memory does not grow with the number of frames.

    python tests/bench/folder.py [--tiny]

Exit code 1 when a limit is missed (never with --tiny, which only shows that it runs).
"""

import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from regscan.threads import one_each

one_each()  # before numpy comes in: as the command does

RATIO = 1.5
GROWTH_KB = 50  # per frame: the two tables' rows are about 5 kB, a frame's pixels 3,900 kB
DIFFERENT = 8  # frames drawn; the folder repeats them
SIDE = (1024, 1280)


class Decode:
    """What is compared against: reading all of a frame's pixels and nothing else, by the decoder
    that regscan takes for such a file too."""

    def __init__(self) -> None:
        import cv2
        from imagecodecs import jpeg8_decode, png_decode

        cv2.setNumThreads(1)
        self.read, self.by = cv2.imread, {".png": png_decode, ".jpg": jpeg8_decode}

    def __call__(self, source):
        decode = self.by.get(source.path.suffix)
        if decode:
            return decode(source.path.read_bytes()).shape
        return self.read(str(source.path)).shape


def draw(folder: Path) -> None:
    """A few frames of the sample job as a camera of 1280 x 1024 pixels takes them."""
    import cv2

    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.simulator.draw import draw_frame
    from regscan.simulator.look import Look, Sensor, Shot

    sample = Path(__file__).parents[2] / "sample_images" / "ramp"
    for name in ("job.toml", "camera.toml"):
        (folder / name).write_bytes((sample / name).read_bytes())
    job, camera = read_job(sample / "job.toml"), read_camera(sample / "camera.toml")
    look = Look(sensor=Sensor(noise_grey=2.0))  # without noise a PNG would be decoded too fast
    for number in range(DIFFERENT):
        shot = Shot(*SIDE, seed=number)
        frame, _ = draw_frame(job, camera, {}, look, shot)
        cv2.imwrite(str(folder / f"{number:02d}.png"), frame.pixels[..., ::-1])


def opened(folder: Path, frames: int):
    """A recording of so many frames, the drawn ones over and over."""
    from regscan.recording.sources import open_recording

    recording = open_recording([folder])
    drawn = recording.sources
    sources = [
        replace(one, info=replace(one.info, name=f"{k:05d}.png", index=k))
        for k, one in enumerate(drawn[k % len(drawn)] for k in range(frames))
    ]
    return replace(recording, sources=tuple(sources))


def measure(folder: Path, recording) -> None:
    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.pipeline import measure_frames

    job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
    cameras = {"": camera, **{post.name: camera for post in job.press.cameras}}
    measured = measure_frames(recording, job, cameras, lambda done, total: None)
    found = measured.offsets["status"] == "ok"
    assert len(found) == 6 * len(recording.sources)
    assert found.mean() > 0.99


def decode(recording) -> None:
    from regscan.measuring import block_of
    from regscan.pipeline import PRELOAD
    from regscan.workers import map_in_order

    for size in map_in_order(Decode, recording.sources, block_of(recording.sources), PRELOAD):
        assert size == (*SIDE, 3)


def seconds(work: Callable[[], None]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def in_turns(folder: Path, recording, rounds: int) -> tuple[float, float, float]:
    """Seconds of decoding and of measuring, and how many times the one the other is: medians
    of so many rounds in which each has its turn."""
    times = [
        (seconds(lambda: decode(recording)), seconds(lambda: measure(folder, recording)))
        for _ in range(rounds)
    ]
    ratio = statistics.median(measuring / decoding for decoding, measuring in times)
    decoding, measuring = (statistics.median(column) for column in zip(*times, strict=True))
    return decoding, measuring, ratio


class Memory:
    """Largest memory of this process and all below it, MB, watched while it is entered."""

    def __enter__(self):
        self.largest_mb, self.over = 0.0, threading.Event()
        self.thread = threading.Thread(target=self.watch)
        self.thread.start()
        return self

    def __exit__(self, *_) -> None:
        self.over.set()
        self.thread.join()

    def watch(self) -> None:
        while not self.over.wait(0.1):
            self.largest_mb = max(self.largest_mb, sum(map(resident_mb, family(os.getpid()))))


def family(process: int) -> list[int]:
    """A process and all that descend from it."""
    below: dict[int, list[int]] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = int(entry.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
        below.setdefault(parent, []).append(int(entry.parent.name))
    found = [process]
    for one in found:
        found += below.get(one, [])
    return found


def resident_mb(process: int) -> float:
    """Memory that only this process holds (shared pages would count several times)."""
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith("Private_")) / 1024


def main() -> int:
    tiny = "--tiny" in sys.argv[1:]
    frames, rounds = (24, 1) if tiny else (240, 3)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        draw(folder)
        recording = opened(folder, frames)
        seconds(lambda: measure(folder, opened(folder, 24)))  # byte code and file caches
        decoding, measuring, ratio = in_turns(folder, recording, rounds)
        print(f"{frames} frames of 1280 x 1024, six marks, {os.cpu_count()} processors")
        print(f"  decoding   {1000 * decoding / frames:6.1f} ms a frame")
        print(f"  measuring  {1000 * measuring / frames:6.1f} ms a frame   {ratio:4.2f} x")
        print(f"  limit {RATIO} x: {'kept' if ratio <= RATIO else 'MISSED'}")
        if tiny:  # too short a run for memory to settle
            return 0
        # Both runs long enough for what workers keep of shapes to be full: it is bounded, and
        # comes to 50-100 MB over a few hundred frames.
        growth = growth_kb(folder, 4 * frames, 16 * frames)
    print(f"  limit {GROWTH_KB} kB a frame: {'kept' if growth <= GROWTH_KB else 'MISSED'}")
    return 0 if ratio <= RATIO and growth <= GROWTH_KB else 1


def growth_kb(folder: Path, few: int, many: int) -> float:
    """Print the memory of a short and a long run; what each further frame took, kB."""
    largest = []
    for frames in (few, many):
        with Memory() as memory:
            measure(folder, opened(folder, frames))
        largest.append(memory.largest_mb)
        print(f"  memory with {frames:4} frames {memory.largest_mb:6.0f} MB")
    growth = 1024 * (largest[1] - largest[0]) / (many - few)
    print(f"  {growth:6.1f} kB for each further frame")
    return growth


if __name__ == "__main__":
    sys.exit(main())
