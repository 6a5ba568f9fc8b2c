"""`regscan history` killed while it writes: each run is in the file whole or not at all."""

import json
import random
import shutil
import sys

import pytest

from regscan.history.store import open_history

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks and kills as Linux does")

RUNS, KILLS = 4, 40


@pytest.fixture(scope="module")
def folders(driver, tiny_run, tmp_path_factory):
    """Results of one run, made at four different moments."""
    place = tmp_path_factory.mktemp("runs")
    assert driver.run(["ramp", tiny_run, "--no-overlays", "--out", place / "0"]).code == 0
    run = json.loads((place / "0" / "run.json").read_text())
    for number in range(1, RUNS):
        shutil.copytree(place / "0", place / str(number))
        run["inputs"]["made_at"] = f"2026-11-{number:02d}T12:00:00+00:00"
        (place / str(number) / "run.json").write_text(json.dumps(run))
    return [place / str(number) for number in range(RUNS)]


def look(file, documents):
    """How many runs are in the file; each is there whole."""
    if not file.exists():
        return 0
    with open_history(file, create=True) as history:
        assert history.link.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert history.link.execute("PRAGMA foreign_key_check").fetchall() == []
        entries = sorted(history.entries(), key=lambda one: one.number)
        assert [history.document(one.number) for one in entries] == documents[: len(entries)]
        assert len({len(history.readings(one.number)) for one in entries}) <= 1
        assert len({len(history.settings(one.number)) for one in entries}) <= 1
    return len(entries)


def test_killed_at_random(driver, folders, tmp_path):
    documents = [(folder / "run.json").read_bytes() for folder in folders]
    file, chance = tmp_path / "history.sqlite", random.Random(0)
    add = ["history", "add", *folders, "--history", file]
    took_s = driver.run(add).took_s
    file.unlink()
    kills, before, whole = 0, 0, 0
    while kills < KILLS:
        ended = driver.run(add, kill_after_s=chance.uniform(0.0, took_s))
        now = look(file, documents)
        assert now >= before  # what was kept stays kept
        before = now
        if ended.killed:
            kills += 1
            continue
        assert (ended.code, now) == (0, RUNS)
        whole, before = whole + 1, 0
        for path in tmp_path.glob("history.sqlite*"):
            path.unlink()
    assert driver.run(add).code == 0
    assert look(file, documents) == RUNS
