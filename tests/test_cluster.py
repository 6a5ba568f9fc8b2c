"""Measuring over a real scheduler and real workers, each a process of its own on this machine."""

import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from regscan.journal.journal import NAME, count_frames
from regscan.wholefile import UNFINISHED

FRAMES = 128  # four chunks for two workers
QUIET = {"DASK_DISTRIBUTED__ADMIN__LOG_LENGTH": "0", "OPENBLAS_NUM_THREADS": "1"}
ENVIRONMENT = {**os.environ, **QUIET}


def started(*words, cwd=None, env=ENVIRONMENT):
    return subprocess.Popen(
        [sys.executable, "-m", *map(str, words)],
        cwd=cwd,
        env=env,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def worker(file: Path, cwd: Path, env=ENVIRONMENT):
    """One thread, and nobody to start it again: what is killed stays dead."""
    asked = ["--scheduler-file", file, "--nthreads", 1, "--no-nanny", "--no-dashboard"]
    return started("distributed.cli.dask_worker", *asked, cwd=cwd, env=env)


def end(process):
    process.kill()
    process.wait(timeout=20)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    """(address, file) of a scheduler without workers."""
    folder = tmp_path_factory.mktemp("cluster")
    file = folder / "scheduler.json"
    asked = ["--scheduler-file", file, "--host", "127.0.0.1", "--port", 0, "--no-dashboard"]
    process = started("distributed.cli.dask_scheduler", *asked, cwd=folder)
    deadline = time.monotonic() + 60
    while not file.exists() or not file.read_text():
        assert time.monotonic() < deadline, "the scheduler did not start"
        assert process.poll() is None
        time.sleep(0.1)
    time.sleep(0.1)
    yield json.loads(file.read_text())["address"], file
    end(process)


@pytest.fixture(scope="module")
def frames(drawn, tmp_path_factory):
    """Many frames from few: links under other names, and one that is no picture."""
    folder = tmp_path_factory.mktemp("many")
    pictures = sorted(drawn.glob("*.png"))
    for number in range(FRAMES):
        (folder / f"{number:04d}.png").symlink_to(pictures[number % len(pictures)])
    (folder / "0033.png").unlink()
    (folder / "0033.png").write_bytes(b"no picture")
    for name in ("job.toml", "camera.toml"):
        shutil.copy(drawn / name, folder)
    return folder


MEASURING = textwrap.dedent(
    """
    import hashlib, json, sys
    from functools import partial
    from pathlib import Path
    from regscan.camera.read import read_camera
    from regscan.cluster.over import map_on_cluster
    from regscan.job.read import read_job
    from regscan.pipeline import measure_frames
    from regscan.recording.sources import open_recording
    from regscan.workers import map_in_order

    if __name__ == "__main__":
        folder, address = Path(sys.argv[1]), sys.argv[2]
        over = partial(map_on_cluster, address) if address else map_in_order
        job, camera = read_job(folder / "job.toml"), read_camera(folder / "camera.toml")
        told = lambda done, total: print(done, total, flush=True)
        found = measure_frames(open_recording([folder]), job, {"": camera}, told, over=over)
        rows = hashlib.sha256(found.offsets.tobytes() + found.marks.tobytes()).hexdigest()
        print(json.dumps([len(found.offsets), rows, [s.frame for s in found.skipped]]))
    """
)


def measuring(tmp_path, folder, address):
    (tmp_path / "measuring.py").write_text(MEASURING)
    return subprocess.Popen(
        [sys.executable, tmp_path / "measuring.py", folder, address],
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        text=True,
    )


def result(process):
    said, _ = process.communicate(timeout=120)
    assert process.returncode == 0
    return json.loads(said.splitlines()[-1])


def test_the_rows_are_those_of_this_machine_also_when_a_worker_is_killed(cluster, frames, tmp_path):
    address, file = cluster
    workers = [worker(file, tmp_path) for _ in range(2)]
    try:
        alone = result(measuring(tmp_path, frames, ""))
        run = measuring(tmp_path, frames, address)
        done, total = map(int, run.stdout.readline().split())
        assert (done, total) == (1, FRAMES)
        workers[0].send_signal(signal.SIGKILL)
        assert run.poll() is None  # it was killed while the run went on
        together = result(run)
    finally:
        for one in workers:
            end(one)
    assert alone == together
    assert alone[0] == 6 * (FRAMES - 1)
    assert alone[2] == ["0033.png"]


def regscan(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "regscan", *map(str, words)],
        cwd=cwd,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_the_command_measures_over_it_from_a_folder_given_by_a_short_path(cluster, drawn, tmp_path):
    """The worker stands in another folder: what is sent it must be the whole path."""
    address, file = cluster
    (tmp_path / "elsewhere").mkdir()
    shutil.copytree(drawn, tmp_path / "run")
    one = worker(file, tmp_path / "elsewhere")
    try:
        asked = ["measure", "run", "--no-overlays", "--out"]
        done = regscan(*asked, "together", "--cluster", address, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        assert regscan(*asked, "alone", cwd=tmp_path).returncode == 0
    finally:
        end(one)
    for name in ("offsets.csv", "marks.csv"):
        assert (tmp_path / "together" / name).read_bytes() == (
            tmp_path / "alone" / name
        ).read_bytes()


def test_a_run_that_is_killed_goes_on_over_the_cluster_where_it_was(cluster, frames, tmp_path):
    """Killed like a machine that loses power: what the journal holds is not measured again."""
    address, file = cluster
    asked = ["measure", str(frames), "--no-overlays", "--out"]
    journal = tmp_path / "together" / UNFINISHED / NAME
    one = worker(file, tmp_path)
    try:
        run = started("regscan", *asked, "together", "--cluster", address, cwd=tmp_path)
        deadline = time.monotonic() + 60
        while kept(journal) < 9:
            assert run.poll() is None
            assert time.monotonic() < deadline
            time.sleep(0.005)
        run.kill()
        run.wait()
        before = kept(journal)
        assert before < FRAMES
        done = regscan(*asked, "together", "--cluster", address, "--resume", cwd=tmp_path)
    finally:
        end(one)
    assert done.returncode == 0, done.stderr
    assert f"Going on after frame {before} of {FRAMES}." in done.stderr
    assert regscan(*asked, "alone", cwd=tmp_path).returncode == 0
    for name in ("offsets.csv", "marks.csv"):
        assert (tmp_path / "together" / name).read_bytes() == (
            tmp_path / "alone" / name
        ).read_bytes()


def kept(journal: Path) -> int:
    """Frames in the journal of a run under way."""
    return count_frames(journal) if journal.exists() else 0


def test_a_worker_of_another_regscan_is_refused(cluster, drawn, tmp_path):
    """A checkout that differs by one comment: nobody knows what else may differ."""
    import regscan as package

    address, file = cluster
    shutil.copytree(Path(package.__file__).parent, tmp_path / "regscan")
    with (tmp_path / "regscan" / "units.py").open("a") as changed:
        changed.write("# changed\n")
    one = worker(file, tmp_path, {**ENVIRONMENT, "PYTHONPATH": str(tmp_path)})
    try:
        done = regscan("measure", drawn, "--out", tmp_path / "o", "--cluster", address, cwd=drawn)
    finally:
        end(one)
    assert done.returncode == 3
    assert "differs from this machine (regscan " in done.stderr
    assert "-> install the same versions" in done.stderr
    assert not (tmp_path / "o").exists()


@pytest.mark.parametrize(
    ("address", "told"),
    [("tcp://127.0.0.1:9", "no cluster answers"), ("nonsense", "is no address")],
)
def test_no_cluster_at_the_address_is_told_with_a_cure(drawn, tmp_path, address, told):
    done = regscan("measure", drawn, "--out", tmp_path / "o", "--cluster", address, cwd=tmp_path)
    assert done.returncode == 3
    assert told in done.stderr
    assert "->" in done.stderr
    assert "Traceback" not in done.stderr
