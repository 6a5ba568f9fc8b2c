"""regscan gauge: repeats of a standing web and crossed studies, end to end."""

import csv
import re
import shutil

import pytest
from typer.testing import CliRunner

from regscan.cli.app import app
from tests.instrument.studies import draw_standing, draw_study, write_job, write_study


def ran(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return {(row["ink"], row["axis"]): row for row in csv.DictReader(file)}


@pytest.fixture(scope="module")
def crossed(tmp_path_factory):
    """3 positions x 2 set-ups (the second turned by 0.05 degrees) x 2 trials."""
    folder = tmp_path_factory.mktemp("study") / "crossed"
    draw_study(folder)
    write_job(folder, tolerance=0.02)
    return folder


@pytest.fixture(scope="module")
def standing(tmp_path_factory):
    """12 frames; cyan creeps by 4 um from first to last."""
    folder = tmp_path_factory.mktemp("web") / "standing"
    draw_standing(folder, 12, creep_um=4.0)
    write_job(folder)
    return folder


def test_a_crossed_study_finds_the_turned_set_up(crossed, tmp_path):
    done = ran("gauge", crossed, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    rows = rows_of(tmp_path / "out" / "gauge.csv")
    # 0.05 degrees over the way from the reference: 1.8 mm give 1.57 um between the set-ups,
    # sd 1.11 um; 3.6 mm twice that; nothing where the mark lies on the axis of the other.
    turn_mm = 1.8 * 8.7266e-4 / 2**0.5
    for ink, axis, way in (
        ("magenta", "circumferential", 1),
        ("yellow", "circumferential", 2),
        ("cyan", "lateral", 1),
        ("green", "lateral", 0),
        ("cyan", "circumferential", 0),
    ):
        seen = float(rows[ink, axis]["reproducibility_sd_mm"])
        assert seen == pytest.approx(way * turn_mm, abs=0.0002), (ink, axis)
    # 6 sd over a band of 0.04 mm.
    share = float(rows["yellow", "circumferential"]["grr_of_tolerance_percent"])
    assert share == pytest.approx(100 * 6 * 2 * turn_mm / 0.04, abs=2.0)
    assert rows["yellow", "circumferential"]["answer"] == "not acceptable"
    assert rows["green", "lateral"]["answer"] == "acceptable"
    assert "Not good enough for this tolerance" in done.stdout
    assert "a small study" in done.stdout
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "gauge.csv",
        "gauge.svg",
        "offsets.csv",
    ]


def test_the_study_can_be_judged_again_from_its_table(crossed, tmp_path):
    assert ran("gauge", crossed, "--out", tmp_path / "one").exit_code == 0
    again = ("--offsets", tmp_path / "one" / "offsets.csv", "--study", crossed / "study.csv")
    done = ran("gauge", *again, "--job", crossed / "job.toml", "--out", tmp_path / "two")
    assert done.exit_code == 0, done.output
    one, two = (rows_of(tmp_path / name / "gauge.csv") for name in ("one", "two"))
    assert one.keys() == two.keys()
    for key, row in one.items():
        # Both are rounded to the table's last digit, and so are the offsets of the second.
        assert float(two[key]["grr_sd_mm"]) == pytest.approx(float(row["grr_sd_mm"]), abs=1.5e-6)
    done = ran(
        "gauge",
        *again,
        "--job",
        crossed / "job.toml",
        "--method",
        "ranges",
        "--out",
        tmp_path / "three",
    )
    assert done.exit_code == 0, done.output


def test_a_tree_of_folders_is_the_same_study(crossed, tmp_path):
    tree = tmp_path / "tree"
    for path in crossed.glob("p*.png"):
        part, setup, trial = path.stem.split("_")
        place = tree / part / setup
        place.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, place / f"{trial}.png")
    files = ("--job", crossed / "job.toml", "--camera", crossed / "camera.toml")
    done = ran("gauge", tree, *files, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    flat = ran("gauge", crossed, "--out", tmp_path / "flat")
    assert flat.exit_code == 0
    one, two = (rows_of(tmp_path / name / "gauge.csv") for name in ("out", "flat"))
    assert {k: row["grr_sd_mm"] for k, row in one.items()} == {
        k: row["grr_sd_mm"] for k, row in two.items()
    }


def test_repeats_of_a_standing_web_show_drift(standing, tmp_path):
    done = ran("gauge", standing, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert "Good enough for this tolerance" in done.stdout
    assert "repeatability alone" in done.stdout.replace("\n", " ")
    told = re.search(r"cyan, circumferential drifts \+(0\.\d{4}) ", done.stdout.replace("\n", " "))
    assert told
    rows = rows_of(tmp_path / "out" / "gauge.csv")
    row = rows["cyan", "circumferential"]
    assert float(row["drift_mm"]) == pytest.approx(0.004, abs=4 * float(row["drift_sd_mm"]))
    assert float(told[1]) == pytest.approx(float(row["drift_mm"]), abs=0.000051)  # four digits
    assert row["reproducibility_sd_mm"] == ""
    assert row["trials"] == "12"
    # Twelve values on a line from 0 to 4 um have an sd of 1.31 um.
    assert float(row["repeatability_sd_mm"]) == pytest.approx(0.00131, abs=0.0001)
    assert float(rows["brown", "lateral"]["repeatability_sd_mm"]) < 0.0003


def refused(done):
    assert done.exit_code == 3, done.output
    assert done.stdout == ""
    head, *problems = done.stderr.strip().splitlines()
    assert "problem" in head
    assert all(" -> " in problem for problem in problems), done.stderr
    return done.stderr


def test_a_hole_in_the_study_is_refused_before_anything_is_written(crossed, tmp_path):
    rows = [(f"p{p}_{s}_{t}.png", p, s, t) for p in (1, 2, 3) for s in "AB" for t in (1, 2)]
    study = tmp_path / "study.csv"
    write_study(study, rows[:-1])
    said = refused(ran("gauge", crossed, "--study", study, "--out", tmp_path / "out"))
    assert "position 3, set-up B: 1 of 2 trials" in said
    write_study(study, [row for row in rows if row[1] == 1])
    said = refused(ran("gauge", crossed, "--study", study, "--out", tmp_path / "out"))
    assert "one position only (1)" in said
    write_study(study, [row for row in rows if row[3] == 1])
    said = refused(ran("gauge", crossed, "--study", study, "--out", tmp_path / "out"))
    assert "nothing was repeated" in said
    write_study(study, [("p9_A_1.png", 9, "A", 1), *rows])
    said = refused(ran("gauge", crossed, "--study", study, "--out", tmp_path / "out"))
    assert "p9_A_1.png" in said
    assert not (tmp_path / "out").exists()


def test_too_few_repeats_are_refused(standing, tmp_path):
    few = [standing / f"{k:03d}.png" for k in range(4)]
    said = refused(ran("gauge", *few, "--out", tmp_path / "out"))
    assert "cyan is good in 4 of 4 frames" in said
    assert not (tmp_path / "out").exists()


def test_frames_or_a_table_but_not_both(standing, tmp_path):
    assert ran("gauge").exit_code == 2
    assert ran("gauge", standing, "--offsets", tmp_path / "offsets.csv").exit_code == 2
