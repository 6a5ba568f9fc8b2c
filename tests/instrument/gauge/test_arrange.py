"""A table of offsets becomes whole studies, or the holes are named one by one."""

import numpy as np
import pytest

from regscan.errors import BadStudy
from regscan.instrument.gauge.arrange import View, arrange_crossed, arrange_standing
from regscan.instrument.gauge.study import Entry
from regscan.offsets.columns import OFFSET_COLUMNS
from regscan.offsets.table import table_of
from tests.marks.conftest import six_colours

JOB = six_colours()


def rows_of(frame, value, status="ok", camera=""):
    common = {"frame": frame, "camera": camera, "edge": ""}
    missing = status == "missing"
    return [
        {
            **common,
            "ink": ink,
            "status": status if ink == "cyan" else "ok",
            "circumferential_mm": None if missing and ink == "cyan" else value,
            "lateral_mm": None if missing and ink == "cyan" else -value,
            "note": "smeared" if status == "doubtful" and ink == "cyan" else "",
        }
        for ink in ("cyan", "magenta", "black")
    ]


def study(parts="12", setups="AB", trials=2):
    return [
        Entry(f"{p}{s}{t}", p, s, t) for p in parts for s in setups for t in range(1, trials + 1)
    ]


def table(entries, spoil=None, camera=""):
    """Each frame's value is told by its name: part 10, set-up 1, trial 0.1 (mm)."""
    spoil = spoil or {}
    rows = []
    for entry in entries:
        value = 10.0 * int(entry.part) + "ABCD".index(entry.setup or "A") + 0.1 * (entry.trial or 0)
        rows += rows_of(entry.frame, value, spoil.get(entry.frame, "ok"), camera)
    return table_of(rows, OFFSET_COLUMNS)


def test_every_value_lands_in_its_cell():
    entries = study()
    arranged = arrange_crossed(table(entries), entries[::-1], JOB, "study.csv")
    one = arranged.studies[View("cyan", "circumferential")]
    assert one.parts == ("2", "1")  # in the order of the study
    assert one.setups == ("B", "A")
    assert one.values_mm[1].tolist() == [[11.1, 11.2], [10.1, 10.2]]
    lateral = arranged.studies[View("cyan", "lateral")]
    assert (lateral.values_mm == -one.values_mm).all()
    assert one.order[0, 0].tolist() == [0, 1]
    assert {view.ink for view in arranged.studies} == {"cyan", "magenta"}  # not the reference


def test_trials_without_numbers_count_in_order():
    entries = [Entry(e.frame, e.part, e.setup) for e in study()]
    arranged = arrange_crossed(table(study()), entries, JOB, "study.csv")
    assert arranged.studies[View("cyan", "lateral")].values_mm[0, 0].tolist() == [-10.1, -10.2]


def test_two_cameras_are_two_studies():
    near = study()
    far = [Entry(f"far{e.frame}", e.part, e.setup, e.trial) for e in near]
    both = np.concatenate([table(near, camera="near"), table(far, camera="far")])
    arranged = arrange_crossed(both, [*near, *far], JOB, "study.csv")
    assert {view.camera for view in arranged.studies} == {"near", "far"}
    assert arranged.studies[View("cyan", "lateral", "far")].trials == 2


def test_a_colour_never_seen_is_told_and_the_others_are_judged():
    entries = study()
    arranged = arrange_crossed(
        table(entries, {e.frame: "missing" for e in entries}), entries, JOB, "study.csv"
    )
    assert arranged.not_seen == ("cyan",)
    assert {view.ink for view in arranged.studies} == {"magenta"}


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        (study(parts="1"), "one position only (1)"),
        (study(trials=1), "nothing was repeated"),
        (study()[:-1], "position 2, set-up B: 1 of 2 trials"),
        ([e for e in study() if (e.part, e.setup) != ("2", "A")], "position 2, set-up A: 0 of 2"),
        ([Entry(e.frame, e.part, e.setup, 1) for e in study()], "trial 1 is there twice"),
    ],
)
def test_a_study_that_is_no_whole_crossing(entries, words):
    with pytest.raises(BadStudy) as refused:
        arrange_crossed(table(study()), entries, JOB, "study.csv")
    assert words in str(refused.value)
    assert all(problem.cure for problem in refused.value.problems)


def test_holes_are_named_cell_by_cell():
    entries = study()
    spoilt = table(entries, {"1A2": "missing", "2B1": "doubtful"})
    with pytest.raises(BadStudy) as refused:
        arrange_crossed(spoilt, entries, JOB, "study.csv")
    places = [problem.place for problem in refused.value.problems]
    assert places == [
        "position 1, set-up A, trial 2 (1A2)",
        "position 2, set-up B, trial 1 (2B1)",
    ]
    assert "cyan has no good value (smeared)" in str(refused.value)


def test_a_frame_that_gave_nothing_is_a_hole():
    entries = study()
    with pytest.raises(BadStudy, match=r"position 2, set-up B \(2B2\): was not measured"):
        arrange_crossed(table(entries[:-1]), entries, JOB, "study.csv")


def test_repeats_of_a_standing_web():
    entries = [Entry(f"f{k}", "1", "A", k) for k in range(12)]
    arranged = arrange_standing(table(entries, {"f3": "missing"}), JOB, "frames")
    cyan = arranged.studies[View("cyan", "circumferential")]
    assert cyan.values_mm.shape == (1, 1, 11)
    assert cyan.order.ravel().tolist() == [0, 1, 2, 4, 5, 6, 7, 8, 9, 10, 11]
    assert arranged.studies[View("magenta", "lateral")].trials == 12
    with pytest.raises(BadStudy, match="cyan is good in 5 of 5 frames -> take at least 10"):
        arrange_standing(table(entries[:5]), JOB, "frames")
