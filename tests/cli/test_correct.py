"""regscan correct: plans, a log of moves, what was learned; and bad logs."""

import csv
import json

import pytest
from drift.presses import JOB
from typer.testing import CliRunner
from verdict.test_moves_made import C, run_with

from regscan.cli.app import app
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import write_table
from regscan.pipeline import Task, decide, inputs_of_table, save_results

COLUMNS = "station,ink,axis,move_mm,steps,words,remaining_mm,sd_mm"


def correct(*arguments):
    return CliRunner().invoke(app, ["correct", *map(str, arguments)])


@pytest.fixture
def folder(tmp_path):
    """Cyan was moved at 80 m; black lies 0.2 mm late, so that all others lie early by it;
    but yellow, which lies 0.4 mm late besides."""
    jumps = {
        ("cyan", C): [(80, -0.12)],
        ("black", C): [(-50, 0.2)],
        ("yellow", C): [(-50, 0.6)],
    }
    table = run_with(jumps, 1)
    run = decide(Task("ramp", JOB, {}), table, inputs_of_table(tmp_path / "offsets.csv", table))
    save_results(tmp_path, run, table, None)
    write_table(tmp_path / "offsets.csv", table, OFFSET_COLUMNS)
    (tmp_path / "moves.csv").write_text("station,axis,steps,web_m\n2,circumferential,-12,80\n")
    return tmp_path


def rows(folder):
    lines = (folder / "corrections.csv").read_text().splitlines()
    assert lines[0] == COLUMNS
    return [row for row in csv.DictReader(lines) if row["steps"] not in ("", "0")]


def test_both_plans_are_shown_and_the_chosen_one_written(folder):
    done = correct(folder)
    assert done.exit_code == 0
    text = " ".join(done.stdout.split())
    assert "Fewest moves: 2 moves at 2 stations" in text
    assert "All to the reference: 4 moves at 4 stations" in text
    assert "fewest moves 2 2 0.92" in text
    assert "all to the reference 4 4 1.12" in text
    assert "Plan: fewest moves" in text
    assert "Plan: all to the reference" in text
    # Yellow prints 1 m before the camera, white 4 m; the run ends at 2 m/s.
    assert "then wait 1.0 m of web (0 s)" in text
    assert "then wait 4.0 m of web (2 s)" in text
    assert "In corrections.csv: all to the reference" in text
    assert "Stop, isolate, then check" in text
    assert [row["ink"] for row in rows(folder)] == ["white", "cyan", "magenta", "yellow"]
    assert correct(folder, "--plan", "fewest").exit_code == 0
    assert {row["ink"] for row in rows(folder)} == {"black", "yellow"}
    plan = json.loads((folder / "plan.json").read_text())
    assert plan["fewest"]["cost"]["moves"] == 2
    orders = [(m["order"], m["ink"], m["wait_m"]) for m in plan["fewest"]["moves"]]
    assert orders == [(1, "black", 0.0), (2, "yellow", 1.0)]
    # Degrees of the cylinder: 360 for a repeat of 304.8 mm.
    first = plan["fewest"]["moves"][0]
    assert first["degrees"] == pytest.approx(first["move_mm"] * 360 / 304.8)


def test_moves_are_checked_and_teach_the_press(folder):
    press = folder / "press.csv"
    done = correct(folder, "--moves", folder / "moves.csv", "--learned", press)
    assert done.exit_code == 0, done.output
    text = " ".join(done.stdout.split())
    assert "Station 2 cyan, circumferential: as expected" in text
    assert "Station 2, circumferential, learned: one step moves 0.0" in text
    assert len(press.read_text().splitlines()) == 2
    again = correct(folder, "--learned", press, "--json")
    document = json.loads(again.stdout)
    assert document["plans"]["learned"][0]["station"] == 2
    assert [c["station"] for c in document["corrections"]][:2] == [1, 1]


def test_the_last_frames_alone(folder):
    assert correct(folder, "--last", "30").exit_code == 0
    (white, *_) = rows(folder)
    assert float(white["move_mm"]) == pytest.approx(0.2)


def test_the_run_before_the_moves(folder, tmp_path_factory):
    before = tmp_path_factory.mktemp("before")
    table = run_with({("black", C): [(-50, 0.2)]}, 2)
    run = decide(Task("ramp", JOB, {}), table, inputs_of_table(before / "offsets.csv", table))
    save_results(before, run, table, None)
    (folder / "moves.csv").write_text("ink,axis,move_mm\ncyan,circumferential,-0.12\n")
    done = correct(folder, "--moves", folder / "moves.csv", "--before", before)
    assert done.exit_code == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("station,axis,steps\n7,circumferential,1\n", "'7' is not on this press"),
        ("station,axis,steps\n2,circumferential,1\n", "no place among the frames"),
        ("", "problem"),
    ],
)
def test_a_bad_log_is_bad_input(folder, text, words):
    (folder / "moves.csv").write_text(text)
    done = correct(folder, "--moves", folder / "moves.csv")
    assert done.exit_code == 3
    assert words in done.output


def test_the_caution_stands_beside_the_plans_in_json_too(folder):
    document = json.loads(correct(folder, "--json").stdout)
    assert "Stop, isolate, then check" in document["plans"]["caution"]
    assert "Stop, isolate, then check" in json.loads((folder / "plan.json").read_text())["caution"]


def test_a_run_in_which_nothing_settled_is_refused_with_what_to_wait_for(tmp_path):
    table = run_with({("cyan", C): [(-50, 0.2)]}, 1, metres=40.0)
    place = table["web_m"]
    table["speed_m_min"] = 150.0 - 2.0 * place  # slowing down from first to last
    run = decide(Task("ramp", JOB, {}), table, inputs_of_table(tmp_path / "offsets.csv", table))
    save_results(tmp_path, run, table, None)
    before = (tmp_path / "corrections.csv").read_bytes()
    done = correct(tmp_path)
    assert done.exit_code == 3
    assert "no colour has a settled offset to be moved by" in done.stderr
    assert "station 2 cyan: the colour did not settle at one speed" in done.stderr
    assert "then wait 3.0 m of web (2 s at 72 m/min)" in done.stderr
    assert (tmp_path / "corrections.csv").read_bytes() == before


def test_wrong_usage(folder):
    assert correct(folder, "--before", folder).exit_code == 2
    assert correct(folder, "--plan", "most").exit_code == 2
    assert correct(folder, "--last", "0").exit_code == 2


def test_a_run_without_its_table_still_has_its_moves(folder):
    (folder / "offsets.csv").unlink()
    assert correct(folder).exit_code == 0
    assert correct(folder, "--last", "5").exit_code == 3
