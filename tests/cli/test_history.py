"""regscan history through the command line: kept, listed, compared, pruned, told."""

import json

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from regscan.history.store import open_history
from tests.history.invented import kept, measured_run, moment, readings, setting


def regscan(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


def told(*words):
    done = regscan(*words)
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture
def file(tmp_path):
    """Twenty weeks on one press; the play of magenta grows, cyan begins 0.08 mm late."""
    import numpy as np

    rng = np.random.default_rng(1)
    path = tmp_path / "plant.sqlite"
    with open_history(path, create=True) as history:
        for week in range(20):
            told = readings(rng, {(3, "circumferential", "play"): week * 0.002})
            lay = setting(2, "cyan", 0.08 + rng.normal(0, 0.005), 0.01)
            history.add(kept(week, week, told, [lay], note="new plates" if week == 7 else ""))
    return path


def test_a_measured_folder_is_kept_once(small_run, tmp_path):
    out = small_run.out
    told("measure", small_run.frames, "--out", out, "--no-overlays")
    file = tmp_path / "h.sqlite"
    assert f"run 1 in {file}" in told("history", "add", out, "--history", file)
    assert "is run 1" in told("history", "add", out, "--history", file)
    (run,) = json.loads(told("history", "list", "--json", "--history", file))["runs"]
    document = json.loads((out / "run.json").read_text())
    assert run["job"] == document["job"]["name"]
    assert run["answer"] == document["verdict"]["answer"]
    assert run["made_at"] == document["inputs"]["made_at"]
    # What is kept is the whole run.json, so the history outlives the folder.
    assert json.loads(told("history", "show", 1, "--json", "--history", file)) == document


def test_a_run_goes_into_a_history_as_it_is_measured(small_run, tmp_path):
    file = tmp_path / "h.sqlite"
    asked = ["--out", small_run.out, "--history", file]
    done = regscan("measure", small_run.frames, *asked, "--no-overlays", "--json")
    assert done.exit_code == 0
    assert json.loads(done.stdout)["folder"] == str(small_run.out)  # and nothing else there
    assert f"History: run 1 in {file}" in done.stderr
    table, job = small_run.out / "offsets.csv", small_run.frames / "job.toml"
    told("ramp", "--offsets", table, "--job", job, "--out", tmp_path / "t", "--history", file)
    runs = json.loads(told("history", "list", "--json", "--history", file))["runs"]
    assert [run["kind"] for run in runs] == ["measure", "ramp"]


def test_a_history_that_cannot_be_used_is_told_before_any_work(small_run, tmp_path):
    file = tmp_path / "h.sqlite"
    file.write_text("frame,ink\n" * 9)
    asked = ["--out", small_run.out, "--history", file]
    done = regscan("measure", small_run.frames, *asked)
    assert done.exit_code == 3
    assert "is no history file" in done.output
    assert not small_run.out.exists()


def test_runs_of_several_folders_come_in_one_call(tmp_path):
    folders = [tmp_path / name for name in "ab"]
    for number, folder in enumerate(folders):
        folder.mkdir()
        measured_run(number, number, folder=folder)
    told("history", "add", *folders, "--history", tmp_path / "h", "--note", "after the move")
    listed = told("history", "list", "--history", tmp_path / "h")
    assert "Run 2: after the move" in listed


def test_health_names_the_station_and_defers(file):
    said = told("history", "health", "--history", file)
    assert "Look at station 3 (magenta) first" in said
    assert "gear mesh" in said
    assert "Stop, isolate" in " ".join(said.split())
    document = json.loads(told("history", "health", "--json", "--history", file))
    assert [look["station"] for look in document["looks"]] == [3]
    assert len(document["trends"]) == 32


def test_list_show_compare_and_waste(file):
    assert "Run 8: new plates" in told("history", "list", "--history", file)
    assert len(json.loads(told("history", "list", "--json", "--since", moment(15)[:10],
                               "--history", file))["runs"]) == 5  # fmt: skip
    shown = told("history", "show", 20, "--history", file)
    assert "cyan" in shown
    differences = json.loads(told("history", "compare", 1, 20, "--json", "--history", file))
    play = [d for d in differences["differences"] if (d["station"], d["what"]) == (3, "play")]
    assert [d["axis"] for d in play if d["change"] > 3 * d["sd"]] == ["circumferential"]
    assert "DIFFERS" in told("history", "compare", 1, 20, "--history", file)
    months = json.loads(told("history", "waste", "--json", "--history", file))["months"]
    # 5 January and 19 weeks: 4 Mondays each in January to April (from the 5th), 4 in May.
    assert [m["month"] for m in months] == [f"2026-0{k}" for k in range(1, 6)]
    assert sum(m["runs"] for m in months) == 20
    assert sum(m["metres_outside"] for m in months) == pytest.approx(20 * 12.5)
    assert "2026-05" in told("history", "waste", "--history", file)


def test_start_says_what_repeats_and_from_where(file):
    (line,) = json.loads(told("history", "start", "Honey jar", "--json", "--history", file))[
        "stations"
    ]
    assert line["usual_mm"] == pytest.approx(0.08, abs=0.004)
    assert (line["words"], line["set_ups"]) == ("advance 0.08 mm", 20)
    said = told("history", "start", "Honey jar", "--history", file)
    assert "Not both" in said
    done = regscan("history", "start", "Honey pot", "--history", file)
    assert done.exit_code == 3
    assert "one of: Honey jar" in done.output


def test_prune_lists_first_and_takes_out_only_when_told(file):
    said = told("history", "prune", "--keep", 12, "--history", file)
    assert "8 would go; nothing was taken out" in said
    with open_history(file) as history:
        assert len(history.entries()) == 20
    assert "8 taken out" in told("history", "prune", "--keep", 12, "--yes", "--history", file)
    with open_history(file) as history:
        assert [entry.number for entry in history.entries()] == list(range(9, 21))
    assert regscan("history", "prune", "--history", file).exit_code == 2
    assert regscan("history", "prune", "--run", 3, "--history", file).exit_code == 3


def test_a_copy_is_a_history_of_its_own(file, tmp_path):
    told("history", "copy", tmp_path / "copy.sqlite", "--history", file)
    one, other = (
        told("history", "list", "--json", "--history", f) for f in (file, tmp_path / "copy.sqlite")
    )
    assert one == other


def test_the_page_is_written_whole(file, tmp_path):
    out = tmp_path / "page.html"
    assert str(out) in told("history", "page", "--out", out, "--history", file)
    assert "Look at station 3 (magenta) first" in out.read_text()


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["list"], 3, "there is no history here"),
        (["add", "nowhere"], 3, "run.json"),
        (["list", "--since", "yesterday"], 2, "no day such as"),
        (["show", "3"], 3, "there is no history here"),
    ],
)
def test_what_cannot_be_done_is_told_with_its_exit_code(tmp_path, words, code, said):
    done = regscan("history", *words, "--history", tmp_path / "none.sqlite")
    assert done.exit_code == code
    assert said in " ".join(done.output.split())


def test_several_presses_ask_which(file):
    with open_history(file) as history:
        history.add(kept(500, 3, press="Press 7"))
    done = regscan("history", "health", "--history", file)
    assert done.exit_code == 3
    assert "choose with --press: Press 2, Press 7" in done.output
    assert "Too few runs yet" in told("history", "health", "--press", "Press 7", "--history", file)
