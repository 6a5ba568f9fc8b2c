"""From a complete file to the page: how long a watch takes to tell of a frame.

    python tests/bench/live_page.py [--tiny]

A watch runs as its users run it, measuring in another process; a reader listens to its page as
a browser does. Printed are the time from a frame's file being complete to the page being told,
in multiples of reading and measuring that frame alone, and in seconds of this machine, and how
many snapshots of the page came while a burst was worked off.
"""

import argparse
import http.client
import json
import queue
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from regscan.cli.watching import _hire
from regscan.measuring import FrameMeasurer
from regscan.recording.sources import open_recording

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.watch.drawn_press import DrawnPress
from tests.watch.running import Watch


class Reader(threading.Thread):
    """Listens to the page's stream; notes when which frame was told."""

    def __init__(self, port: int) -> None:
        super().__init__(daemon=True)
        self.told: queue.Queue[tuple[float, dict]] = queue.Queue()
        self._link = http.client.HTTPConnection("127.0.0.1", port)
        self._link.request("GET", "/events")
        self._stream = self._link.getresponse()

    def run(self) -> None:
        kind = b""
        while line := self._stream.fp.readline():
            if line.startswith(b"event: "):
                kind = line[7:].strip()
            elif line.startswith(b"data: ") and kind == b"state":
                self.told.put((time.monotonic(), json.loads(line[6:])))

    def until(self, frames: int) -> tuple[float, int]:
        """When that many measured frames were told, and after how many snapshots."""
        count = 0
        while True:
            at, state = self.told.get(timeout=120)
            count += 1
            if state["counts"]["measured"] >= frames:
                return at, count


def main() -> None:
    """Print both."""
    options = argparse.ArgumentParser()
    options.add_argument("--tiny", action="store_true")
    tiny = options.parse_args().tiny
    singles, burst = (3, 20) if tiny else (20, 500)
    with tempfile.TemporaryDirectory() as folder:
        press = DrawnPress(Path(folder) / "frames")
        with Watch(press.folder, Path(folder) / "out", _hire) as watch:
            watch.serve()
            reader = Reader(watch.port)
            reader.start()
            press.drop(1)  # starts the process
            reader.until(1)
            waits = []
            for _ in range(singles):
                press.drop(1)
                done = time.monotonic()
                waits.append(reader.until(press.number)[0] - done)
            alone = _alone(press)
            middle, worst = statistics.median(waits), max(waits)
            print("| from a complete file to the page | x measuring it | s here |")
            print("|---|---|---|")
            print(f"| middle of {singles} frames | {middle / alone:.1f} | {middle:.2f} |")
            print(f"| worst | {worst / alone:.1f} | {worst:.2f} |")
            data, first = press.encoded(), press.number
            for k in range(burst):
                (press.folder / f"burst{k:04d}.png").write_bytes(data)
            start = time.monotonic()
            end, snapshots = reader.until(first + burst)
            each = (end - start) / burst
            print(
                f"| burst of {burst}: a frame each | {each / alone:.1f} | {each:.3f} |\n"
                f"snapshots of the page meanwhile: {snapshots}"
            )


def _alone(press: DrawnPress) -> float:
    """Seconds to read and measure one of its frames, the finders being there."""
    source = open_recording([press.folder]).sources[0]
    measure = FrameMeasurer(press.job, {"": press.camera})
    measure(source)
    start = time.perf_counter()
    for _ in range(5):
        measure(source)
    return (time.perf_counter() - start) / 5


if __name__ == "__main__":
    main()
