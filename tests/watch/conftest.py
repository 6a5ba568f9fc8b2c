"""Folders with a drawn press, and watches over them."""

import pytest

from tests.watch.drawn_press import DrawnPress
from tests.watch.running import Watch


@pytest.fixture
def press(tmp_path) -> DrawnPress:
    return DrawnPress(tmp_path / "frames")


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


@pytest.fixture
def watch(press, out):
    with Watch(press.folder, out) as running:
        yield running


@pytest.fixture
def served(watch):
    watch.serve()
    return watch
