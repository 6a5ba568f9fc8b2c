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
