"""regscan correct on runs of the press model, whose truth is known."""

import csv
import json

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app

CALM = ("--scenario", "calm", "--table")


def succeeds(*arguments):
    done = CliRunner().invoke(app, [*map(str, arguments)])
    assert done.exit_code == 0, done.output
    return done.stdout


def simulated(folder, *arguments):
    """A run of the press model, analysed; the folder of its results."""
    run = folder / "run"
    succeeds("simulate", *CALM, *arguments, "--out", run)
    given = ("--offsets", run / "offsets.csv", "--job", run / "job.toml")
    succeeds("ramp", *given, "--speed-log", run / "speed_log.csv", "--out", folder / "out")
    return folder / "out"


def advice(out, *arguments):
    return json.loads(succeeds("correct", out, "--json", *arguments))


def test_an_unfinished_warm_up_waits_for_where_it_will_really_end(tmp_path):
    # A lamp before station 5 that takes 5 min, of which 410 s were seen: 0.25 mm late in the end.
    lamp = "lamp-warm-up station=5 size_mm=0.25 tau_min=5"
    out = simulated(tmp_path, "--frames", 140, "--fault", lamp)
    waiting = {(w["ink"], w["axis"]): w for w in advice(out)["plans"]["waiting"]}
    assert set(waiting) == {("green", "circumferential"), ("brown", "circumferential")}
    with (tmp_path / "run" / "truth.csv").open() as file:
        first = {
            row["ink"]: float(row["circumferential_mm"]) for row in list(csv.DictReader(file))[:6]
        }
    for ink in ("green", "brown"):
        one = waiting[ink, "circumferential"]
        # The first frame's true place plus all of the warming; print scatters by 0.004 mm.
        end = first[ink] + 0.25
        assert abs(one["final_mm"] - end) < 3 * one["final_sd_mm"] + 0.01
        # 0.25 exp(-410/300) is 0.064 mm to go, to 0.01: 556 s at 2.5 m/s.
        assert one["wait_s"] == pytest.approx(556, rel=0.4)
        assert one["wait_m"] == pytest.approx(2.5 * one["wait_s"], rel=0.01)
    moved = [c["ink"] for c in advice(out, "--plan", "fewest")["corrections"] if c["steps"]]
    assert not {"green", "brown", "black"} & set(moved)  # black would take what waits along


def test_a_splice_moves_nothing(tmp_path):
    # 0.2 mm over 2 m, which one frame shows (green 0.088 mm early, magenta 0.068 mm).
    spliced = simulated(tmp_path, "--frames", 120, "--fault", "splice at_m=860")
    noted = {(c["ink"], c["axis"]): c["steps"] for c in advice(spliced)["corrections"]}
    table = (spliced / "offsets.csv").read_text().splitlines(keepends=True)
    hit = next(k for k, line in enumerate(table) if line.startswith("0116.") and ",green," in line)
    assert float(table[hit].split(",")[9]) < -0.05
    assert noted["green", "circumferential"] == 0
    # The run as it was when that frame was the newest.
    (spliced / "offsets.csv").write_text("".join(table[: 1 + 6 * 116]))
    for last in (1, 2):
        green = [c for c in advice(spliced, "--last", last)["corrections"] if c["ink"] == "green"]
        assert [c["steps"] for c in green] == [0, 0]
    assert "look again after about" in advice(spliced, "--last", 1)["corrections"][8]["words"]


@pytest.mark.parametrize(
    ("mm", "noted", "answer"),
    [(-0.12, -12, "as expected"), (-0.12, 12, "wrong way"), (-0.05, -12, "too little")],
)
def test_a_plate_that_was_moved_is_held_against_the_log(tmp_path, mm, noted, answer):
    slip = f"plate-slip station=2 at_m=400 size_mm={mm}"
    out = simulated(tmp_path, "--frames", 120, "--fault", slip)
    (tmp_path / "moves.csv").write_text(
        f"station,axis,steps,web_m\n2,circumferential,{noted},400\n"
    )
    (effect,) = advice(out, "--moves", tmp_path / "moves.csv")["plans"]["moves_made"]
    assert effect["answer"] == answer
