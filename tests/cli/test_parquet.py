"""--parquet writes the tables twice, and ramp --offsets reads either."""

import json
import sys

import polars
import pytest
from typer.testing import CliRunner

from regscan.cli.app import app


def regscan(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


def judged(folder):
    document = json.loads((folder / "run.json").read_text())
    return [document[part] for part in ("drift", "corrections", "verdict")]


def test_measured_tables_lie_beside_the_csv_and_judge_alike(small_run, tmp_path):
    out = small_run.out
    asked = ["measure", small_run.frames, "--out", out, "--no-overlays", "--parquet"]
    assert regscan(*asked).exit_code == 0
    for name in ("offsets", "marks"):
        csv, parquet = (out / f"{name}.{kind}" for kind in ("csv", "parquet"))
        lines = csv.read_text().splitlines()
        table = polars.read_parquet(parquet)
        assert (table.columns, len(table)) == (lines[0].split(","), len(lines) - 1)
    for kind in ("csv", "parquet"):
        job = ["--job", small_run.frames / "job.toml", "--out", tmp_path / kind]
        done = regscan("ramp", "--offsets", out / f"offsets.{kind}", *job)
        assert done.exit_code == 0, done.output
    # CSV rounds to a millionth of a mm, so the words agree and the numbers nearly.
    moves = [[one["words"] for one in judged(tmp_path / kind)[1]] for kind in ("csv", "parquet")]
    assert moves[0] == moves[1]


def test_a_run_without_it_leaves_no_older_parquet_behind(small_run):
    asked = ["measure", small_run.frames, "--out", small_run.out, "--no-overlays"]
    assert regscan(*asked, "--parquet").exit_code == 0
    assert regscan(*asked).exit_code == 0
    assert not list(small_run.out.glob("*.parquet"))


def test_a_missing_pyarrow_is_told_before_any_frame_is_measured(small_run, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    done = regscan("measure", small_run.frames, "--out", small_run.out, "--parquet")
    assert done.exit_code == 3
    assert "pip install" in done.output
    assert not small_run.out.exists()


def test_the_table_that_is_read_is_never_written_over(small_run):
    asked = ["measure", small_run.frames, "--out", small_run.out, "--no-overlays", "--parquet"]
    assert regscan(*asked).exit_code == 0
    table, job = small_run.out / "offsets.parquet", small_run.frames / "job.toml"
    done = regscan("ramp", "--offsets", table, "--job", job, "--out", small_run.out)
    assert done.exit_code == 3
    assert "holds the very table" in done.output


@pytest.mark.parametrize("name", ["offsets.parquet"])
def test_its_default_folder_is_not_the_one_it_lies_in(tmp_path, name):
    from regscan.cli.results import default_out

    assert default_out([tmp_path / name]).name == f"{tmp_path.name}-table"
