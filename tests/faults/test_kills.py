"""Killed at any moment (SIGKILL to the whole process group), a run loses no finished frame.

Every kill is followed by a look at what lies there: each finished frame's record, digit for
digit; no file in part; no folder that is half of one run and half of another. Then the run
is gone on with, is killed again, and so on; whenever it comes to its end, its files are
those of a run nobody disturbed.
"""

import random
import sys

import pytest

from tests.faults.killing import Killing, undisturbed
from tests.faults.tiny import draw_tiny_run

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks and kills as Linux does")

GROUPS, KILLS = 4, 20  # for each command; with watch and history 240 in all


@pytest.fixture(scope="module", params=["measure", "ramp"])
def whole(request, driver, tiny_run, tmp_path_factory):
    out = tmp_path_factory.mktemp("whole") / "out"
    return undisturbed(driver, [request.param, str(tiny_run), "--no-overlays"], tiny_run, out)


@pytest.mark.parametrize("group", range(GROUPS))
def test_killed_at_random(driver, whole, tmp_path, group):
    killing = Killing(driver, whole, tmp_path / "out", random.Random(group))
    while killing.kills < KILLS:
        killing.at_random()
    killing.to_the_end()


def test_killed_before_each_change_of_a_file(driver, whole, tmp_path):
    if whole.args[0] != "measure":
        pytest.skip("both write in the same way")
    killing = Killing(driver, whole, tmp_path / "out", random.Random(0))
    changes = 0
    while killing.at_change(changes):
        changes += 1
    assert changes > 20
    assert killing.kills == changes
    killing.to_the_end()


def test_killed_with_its_measuring_processes(driver, tmp_path):
    """The same with frames under way in two more processes, which the kill ends too."""
    folder = draw_tiny_run(tmp_path / "run", 64)
    args = ["measure", str(folder), "--no-overlays"]
    killing = Killing(
        driver,
        undisturbed(driver, args, folder, tmp_path / "one"),
        tmp_path / "out",
        random.Random(4),
    )
    killing.whole.took_s *= 4  # starting processes takes long beside so few frames
    while killing.kills < 3:
        killing.at_random(cpus=2)
    killing.to_the_end()
