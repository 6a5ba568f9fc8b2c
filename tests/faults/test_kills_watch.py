"""`regscan watch` killed at any moment goes on where it stopped: no frame is lost or doubled."""

import json
import random
import sys

import pytest

from regscan.journal.linefile import good_bytes, good_lines
from regscan.run import load_run

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks and kills as Linux does")

GROUPS, KILLS, FRAMES = 2, 20, 12


def frames_kept(out):
    path = out / "job-0001" / "frames.jsonl"
    return list(good_lines(path))[1:] if path.exists() else []


@pytest.mark.parametrize("group", range(GROUPS))
def test_killed_at_random(driver, tiny_run, tmp_path, group):
    chance, kills, number = random.Random(group), 0, 0
    took_s = 1.2
    while kills < KILLS:
        out, known, number = tmp_path / f"out{number}", [], number + 1
        for _ in range(KILLS):
            ended = driver.run(
                ["watch", tiny_run, "--no-page", "--out", out],
                kill_after_s=chance.uniform(0.0, took_s),
                watched=FRAMES,
            )
            found = frames_kept(out)
            assert len(found) >= ended.told
            assert found[: len(known)] == known  # digit for digit what they were
            known = found
            if not ended.killed:
                break
            kills += 1
        else:
            ended = driver.run(["watch", tiny_run, "--no-page", "--out", out], watched=FRAMES)
        assert ended.code == 0, driver.log.read_text()
        check_whole(out)


def check_whole(out):
    names = [json.loads(record)["frame"] for record in frames_kept(out)]
    assert names == [f"{k:06d}.png" for k in range(FRAMES)]
    events = out / "events.jsonl"
    assert good_bytes(events) == events.stat().st_size
    numbers = [json.loads(line)["number"] for line in good_lines(events)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert load_run(out / "job-0001" / "run.json").inputs.frames_used == FRAMES
