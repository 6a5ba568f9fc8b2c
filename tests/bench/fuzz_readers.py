"""Every reader fed with spoilt files: each is read, or refused by its own error with cures.

    python tests/bench/fuzz_readers.py [--tiny] [--runs N] [--reader NAME]

Coverage-guided by atheris (libFuzzer for Python; `pip install "regscan-press[fuzz]"`): inputs
that reach new code of regscan or Pillow are kept and changed further. Where atheris is not
installed the same files are changed at random and nothing guides the search, which is said.
Each reader runs in a process of its own, beginning with good files. Exit code 1 when any
other error, a crash, over 10 s for one input or over 2 GB of memory was met.
"""

import argparse
import random
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS, TINY = 5_000, 60
LARGEST = 32_768  # bytes of an input
SAMPLE = ROOT / "sample_images" / "ramp"


@dataclass(frozen=True)
class Reader:
    """A reader under test: its file's name, what reads it, and good files to begin with."""

    name: str
    read: Callable[[Path], object]
    seeds: Callable[[], list[bytes]]


def readers() -> dict[str, Reader]:
    """All of them, by the name of the file they read."""
    from regscan.camera.read import read_camera
    from regscan.job.read import read_job
    from regscan.journal.linefile import good_bytes
    from regscan.offsets.table import read_marks, read_offsets
    from regscan.recording.framelist import read_frame_list
    from regscan.recording.picture import read_picture
    from regscan.recording.speedlog import read_speed_log
    from regscan.run import load_run
    from regscan.verdict.certificate import read_certificate

    def sample(name: str) -> Callable[[], list[bytes]]:
        return lambda: [(SAMPLE / name).read_bytes()[:LARGEST]]

    text = {
        "job.toml": Reader("job.toml", read_job, sample("job.toml")),
        "camera.toml": Reader("camera.toml", read_camera, sample("camera.toml")),
        "frames.csv": Reader("frames.csv", read_frame_list, lambda: [FRAMES]),
        "speed_log.csv": Reader("speed_log.csv", read_speed_log, lambda: [LOG]),
        "offsets.csv": Reader("offsets.csv", read_offsets, lambda: [OFFSETS]),
        "marks.csv": Reader("marks.csv", read_marks, lambda: [MARKS]),
        "run.json": Reader("run.json", load_run, a_run),
        "certificate.json": Reader("certificate.json", read_certificate, lambda: [CERTIFICATE]),
        "journal.jsonl": Reader("journal.jsonl", good_bytes, lambda: [JOURNAL]),
    }
    pictures = {
        name: Reader(name, read_picture, lambda name=name: drawn(name))
        for name in ("a.png", "a.tif", "a.bmp", "a.jpg", "a.webp")
    }
    upper = {
        f"upper part of {name}": Reader(name, read_part, lambda name=name: drawn(name, rows=40))
        for name in ("a.png", "a.bmp", "a.jpg")
    }
    pages = Reader("pages.tif", read_pages, drawn_pages)
    return text | pictures | upper | {"pages.tif": pages}


FRAMES = (
    b"frame,time_s,web_m,speed_m_min,camera,edge\n1.png,0.5,1.25,150,end,operator\n2.png,1,,,,\n"
)
LOG = b"time_s,speed_m_min\n0,150\n0.5,149.5\n1.0,150\n60,150\n"
OFFSETS = (
    b"frame,time_s,web_m,speed_m_min,camera,edge,station,ink,status,circumferential_mm,lateral_mm,"
    b"circumferential_sd_mm,lateral_sd_mm,note\n"
    b'1.png,0,0,150,,,1,cyan,ok,0.01,-0.02,0.002,0.002,\n1.png,,,,,,2,black,missing,,,,,"a, b"\n'
)
MARKS = (
    b"frame,camera,edge,ink,status,row_px,col_px,row_sd_px,col_sd_px,flags,contrast,edge_px\n"
    b"1.png,,,cyan,ok,10.5,20.25,0.01,0.01,0,0.5,0.8\n1.png,,,black,missing,,,,,0,,\n"
)
CERTIFICATE = b'{"format": 1, "answer": "in register", "frames": "run", "digest": "", "files": []}'
JOURNAL = b"00000000 {}\n"


def a_run() -> list[bytes]:
    """A true run.json, on one line."""
    import json

    from regscan.job.read import read_job
    from regscan.offsets.table import read_offsets
    from regscan.pipeline import Task, decide, inputs_of_table
    from regscan.run import save_run

    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "offsets.csv")
        path.write_bytes(OFFSETS)
        table = read_offsets(path)
        run = decide(
            Task("measure", read_job(SAMPLE / "job.toml"), {}), table, inputs_of_table(path, table)
        )
        save_run(run, path)
        return [json.dumps(json.loads(path.read_bytes())).encode()]


def drawn(name: str, rows: int = 6) -> list[bytes]:
    """Small pictures: colour and mono, 8 and 16 bit where the kind has them."""
    import cv2
    import numpy as np

    rng = np.random.default_rng(3)
    found = []
    for shape, dtype in (((rows, 9, 3), np.uint8), ((rows, 9), np.uint8), ((5, 7, 3), np.uint16)):
        if dtype == np.uint16 and not name.endswith((".png", ".tif")):
            continue
        pixels = rng.integers(0, np.iinfo(dtype).max, shape, dtype)
        done, data = cv2.imencode(Path(name).suffix, pixels)
        assert done
        found.append(data.tobytes())
    return found


def drawn_pages() -> list[bytes]:
    import cv2
    import numpy as np

    done, data = cv2.imencodemulti(".tif", [np.full((5, 8, 3), 30 * k, np.uint8) for k in range(3)])
    assert done
    return [data.tobytes()]


def read_pages(path: Path) -> object:
    """Every page of a TIFF, as a folder with it is read."""
    from regscan.recording.picture import page_count, read_picture

    pages = page_count(path)
    return [read_picture(path, page) for page in range(min(pages, 4))]


def read_part(path: Path) -> object:
    """A few rows of a picture, as a frame is read whose marks are followed."""
    from regscan.recording.picture import read_upper

    return read_upper(path, slice(2, 5))


def feed(reader: Reader, path: Path, data: bytes) -> None:
    """One input. Anything but a result or a refusal that says what to do is let through."""
    from regscan.errors import BadInput

    path.write_bytes(data)
    try:
        reader.read(path)
    except BadInput as bad:
        if not bad.problems or bad.path != str(path):
            raise AssertionError("a refusal that does not say what is wrong") from bad
        if not any(problem.cure for problem in bad.problems):
            raise AssertionError("a refusal without a cure") from bad


def guided(name: str, runs: int, place: Path) -> None:
    """Feed one reader by atheris; ends the process."""
    import atheris

    watched = ["regscan", "PIL", "tomllib"]
    with atheris.instrument_imports(include=watched, enable_loader_override=False):
        reader = readers()[name]
        import PIL.Image  # noqa: F401
    corpus = place / "corpus"
    corpus.mkdir()
    for number, seed in enumerate(reader.seeds()):
        (corpus / str(number)).write_bytes(seed)
    limits = [f"-runs={runs}", f"-max_len={LARGEST}", "-timeout=10", "-rss_limit_mb=2048"]
    told = ["-seed=1", "-print_final_stats=1", f"-artifact_prefix={place}/"]
    path = place / name
    atheris.Setup([sys.argv[0], *limits, *told, str(corpus)], lambda data: feed(reader, path, data))
    atheris.Fuzz()


def unguided(name: str, runs: int, place: Path) -> None:
    """Feed one reader with good files changed at random; nothing is learnt from coverage."""
    reader, chance, path = readers()[name], random.Random(1), place / name
    seeds = reader.seeds()
    for _ in range(runs):
        data = bytearray(chance.choice(seeds))
        for _ in range(chance.randint(1, 8)):
            at = chance.randrange(len(data) + 1)
            how = chance.choice(["write", "cut", "double"])
            if how == "write":
                data[at : at + chance.randint(0, 4)] = chance.randbytes(chance.randint(0, 4))
            elif how == "cut":
                del data[at : at + chance.randint(1, 40)]
            else:
                data[at:at] = data[at : at + chance.randint(1, 40)]
        try:
            feed(reader, path, bytes(data))
        except Exception:
            (place / "crash-found").write_bytes(data)
            raise
    print(f"stat::number_of_executed_units: {runs}", file=sys.stderr)


def has_atheris() -> bool:
    try:
        import atheris  # noqa: F401
    except ImportError:
        return False
    return True


def fuzz(name: str, runs: int) -> tuple[int, str, str]:
    """Feed one reader in a process of its own: (inputs fed, coverage reached, what went wrong)."""
    with tempfile.TemporaryDirectory() as place:
        own = [sys.executable, __file__, "--inside", place, "--reader", name, "--runs", str(runs)]
        done = subprocess.run(own, capture_output=True, text=True, errors="replace", cwd=ROOT)
        fed = re.search(r"stat::number_of_executed_units:\s+(\d+)", done.stderr)
        reached = re.findall(r"cov: (\d+)", done.stderr)
        found = sorted(Path(place).glob("*-*"))
        wrong = ""
        if done.returncode or found or not fed:
            inputs = ", ".join(repr(path.read_bytes()[:200]) for path in found if path.is_file())
            wrong = f"{done.stderr[-1500:]}\ninput: {inputs}"
    return int(fed[1]) if fed else 0, reached[-1] if reached else "", wrong


def main() -> int:
    reader = argparse.ArgumentParser()
    reader.add_argument("--tiny", action="store_true")
    reader.add_argument("--runs", type=int, default=0)
    reader.add_argument("--reader")
    reader.add_argument("--inside", type=Path)
    asked = reader.parse_args()
    runs = asked.runs or (TINY if asked.tiny else RUNS)
    if asked.inside:
        (guided if has_atheris() else unguided)(asked.reader, runs, asked.inside)
        return 0
    how = "guided by coverage (atheris)" if has_atheris() else "atheris is not installed: unguided"
    print(f"Readers fed with spoilt files, {how}")
    total, bad = 0, 0
    for name in [asked.reader] if asked.reader else readers():
        fed, reached, wrong = fuzz(name, runs)
        total, bad = total + fed, bad + bool(wrong)
        print(f"  {name:<18}{fed:>8,} inputs{reached:>8} edges   {'FAILED' if wrong else 'clean'}")
        if wrong:
            print(wrong)
    print(f"  {total:,} inputs in all, {bad} readers failed")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
