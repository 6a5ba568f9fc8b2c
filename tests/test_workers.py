"""Work over processes: in order, never too much under way, and never left hanging."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from functools import partial
from pathlib import Path

import pytest

from regscan import workers
from regscan.errors import WorkerLost


class Squares:
    def __call__(self, number: int) -> tuple[int, int]:
        return number * number, os.getpid()


class DiesAt:
    def __init__(self, number: int) -> None:
        self.number = number

    def __call__(self, number: int) -> int:
        if number == self.number:
            os.kill(os.getpid(), signal.SIGKILL)
        return number


class Fails:
    def __call__(self, number: int) -> int:
        raise ValueError(f"thing {number}")


@pytest.fixture
def two_cpus(monkeypatch):
    monkeypatch.setattr(workers, "cpus", lambda: 2)


@pytest.mark.usefixtures("two_cpus")
def test_results_come_in_order_and_from_other_processes():
    results = list(workers.map_in_order(Squares, range(50), 16))
    assert [square for square, _ in results] == [n * n for n in range(50)]
    assert os.getpid() not in {process for _, process in results}


def test_what_one_process_would_do_alone_is_done_here():
    results = list(workers.map_in_order(Squares, range(16), 16))
    assert {process for _, process in results} == {os.getpid()}


WITHOUT = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
ASKED = """
import os, sys
sys.path.insert(0, {here!r})
from regscan import workers
workers.cpus = lambda: 2

class Threads:
    def __call__(self, number):
        return os.environ.get("OPENBLAS_NUM_THREADS")

if __name__ == "__main__":
    print(*set(workers.map_in_order(Threads, range(50), 16)))
"""


@pytest.mark.parametrize(("set_to", "found"), [({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3")])
def test_workers_leave_the_other_processors_to_each_other(tmp_path, set_to, found):
    """Threads of the library below numpy in each of them doubled the time of a frame."""
    script = tmp_path / "asks.py"
    script.write_text(ASKED.format(here=str(Path(__file__).parents[1])))
    done = subprocess.run(
        [sys.executable, script], env=WITHOUT | set_to, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == [found]


def test_the_command_sets_its_threads_before_numpy_is_loaded():
    script = """
import os, sys
import regscan.cli.app
from regscan.__main__ import main
regscan.cli.app.run = lambda: print(os.environ["OPENBLAS_NUM_THREADS"], "numpy" in sys.modules)
main()
"""
    done = subprocess.run(
        [sys.executable, "-c", script], env=WITHOUT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["1", "False"]


@pytest.mark.usefixtures("two_cpus")
def test_what_is_under_way_is_bounded():
    """Nothing is taken from the list of things until earlier results were fetched."""
    taken = []

    class Things(list):
        def __getitem__(self, part):
            taken.append(part)
            return super().__getitem__(part)

    results = workers.map_in_order(Squares, Things(range(1000)), 16)
    next(results)
    assert len(taken) <= 2 * workers.cpus() + 1
    results.close()


@pytest.mark.usefixtures("two_cpus")
def test_a_lost_process_is_one_error_with_its_cure():
    with pytest.raises(WorkerLost, match="memory"):
        list(workers.map_in_order(partial(DiesAt, 20), range(50), 16))


@pytest.mark.usefixtures("two_cpus")
def test_a_script_is_only_blamed_where_nothing_came_back():
    with pytest.raises(WorkerLost) as late:
        list(workers.map_in_order(partial(DiesAt, 40), range(50), 16))
    assert "__main__" not in str(late.value)


def test_a_script_without_a_guard_is_told_of_it(tmp_path):
    """Its workers run it again from the top, and end."""
    script = tmp_path / "unguarded.py"
    script.write_text(
        "from regscan import workers\nworkers.cpus = lambda: 2\n"
        "list(workers.map_in_order(dict, range(50), 16))\n"
    )
    done = subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=60)
    assert done.returncode != 0
    assert "under: if __name__ == '__main__'" in done.stderr


@pytest.mark.usefixtures("two_cpus")
def test_a_fault_in_the_work_is_not_swallowed():
    with pytest.raises(ValueError, match="thing 0"):
        list(workers.map_in_order(Fails, range(50), 16))


SLOW = textwrap.dedent(
    """
    import os, sys, time
    from regscan import workers

    class Slow:
        def __call__(self, number):
            os.write(1, b"%d\\n" % os.getpid())
            time.sleep(0.05)

    if __name__ == "__main__":
        workers.cpus = lambda: 2
        try:
            list(workers.map_in_order(Slow, range(4000), 1000))  # 50 s a chunk
        except KeyboardInterrupt:
            sys.exit(130)
    """
)


def alive(process: int) -> bool:
    try:
        with open(f"/proc/{process}/stat") as stat:
            return stat.read().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="looks at processes in /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGKILL])
def test_no_process_outlives_a_stopped_run(tmp_path, number):
    """Nor is a chunk that was begun worked on to its end."""
    script = tmp_path / "slow.py"
    script.write_text(SLOW)
    run = subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, text=True, start_new_session=True
    )
    processes = {int(run.stdout.readline()) for _ in range(20)}
    if number == signal.SIGINT:
        os.killpg(run.pid, number)  # as Ctrl-C in a terminal does
    else:
        run.send_signal(number)
    assert run.wait(timeout=20) == (130 if number == signal.SIGINT else -signal.SIGKILL)
    run.stdout.close()
    deadline = time.monotonic() + 20
    while any(map(alive, processes)) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(map(alive, processes))
