"""The table of long runs, where a run is too short for its clock."""

import importlib
from pathlib import Path


def test_a_stage_shorter_than_a_tick_has_no_ratio(monkeypatch, capsys):
    monkeypatch.syspath_prepend(Path(__file__).parent / "bench")
    long_runs = importlib.import_module("long_runs")
    short = [long_runs.Cost(20, 0.004, 0.0, 70.0) for _ in long_runs.STAGES]
    longer = [long_runs.Cost(60, 0.012, 0.01, 70.0) for _ in long_runs.STAGES]
    long_runs.show([short, longer])
    lines = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert [line[4] for line in lines if line[1] == "60"] == ["nan"] * 4
