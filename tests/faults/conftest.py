import pytest

from tests.faults.driver import Driver
from tests.faults.tiny import draw_tiny_run

FRAMES = 12


@pytest.fixture(scope="session")
def driver(tmp_path_factory):
    """One process per test worker that forks commands."""
    one = Driver(tmp_path_factory.mktemp("driver") / "log.txt")
    yield one
    one.close()


@pytest.fixture(scope="session")
def tiny_run(tmp_path_factory):
    """A folder of twelve tiny frames, not to be changed."""
    return draw_tiny_run(tmp_path_factory.mktemp("tiny") / "run", FRAMES)
