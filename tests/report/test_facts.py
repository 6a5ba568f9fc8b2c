"""The facts say what the run says, with nothing a browser is needed for."""

import json
from dataclasses import replace

import pytest

from regscan.report.facts import report_facts
from regscan.report.page import chart_groups, page
from tests.report.invented import invented_run


def test_facts_are_plain_json(facts):
    assert json.loads(json.dumps(facts, allow_nan=False)) == json.loads(json.dumps(facts))


def test_verdict_comes_through_unchanged(facts, invented):
    run = invented[0]
    assert facts["verdict"] == {
        "answer": run.verdict.answer,
        "sign": "out",
        "sentence": run.verdict.sentence,
    }


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_sentences_name_worst_station_direction_speed_and_metres(sign):
    run, offsets, _ = invented_run()
    offsets = offsets.copy()
    tracks = [
        replace(
            t, stretches=tuple(replace(s, worst_mm=sign * abs(s.worst_mm)) for s in t.stretches)
        )
        for t in run.drift.tracks
    ]
    run = replace(run, drift=replace(run.drift, tracks=tuple(tracks)))
    first = report_facts(run, offsets, None)["sentences"][0]
    stretch = next(s for t in tracks if t.ink == "cyan" for s in t.stretches)
    assert "Cyan (station 2)" in first
    assert f"{abs(stretch.worst_mm):.3f} mm {'late' if sign > 0 else 'early'}" in first
    assert f"{stretch.metres:.0f} m of web" in first
    assert f"{stretch.left_at_speed_m_min:.0f} m/min" in first


def test_a_calm_run_says_so(invented):
    run, offsets, marks = invented
    calm = tuple(
        replace(t, stretches=(), flagged=False, settled=replace(t.settled, mean_mm=0.02))
        for t in run.drift.tracks
    )
    run = replace(run, drift=replace(run.drift, tracks=calm))
    assert report_facts(run, offsets, marks)["sentences"][0].startswith("No station left")


def test_states_tell_out_now_from_out_on_the_way(facts):
    states = {s["ink"]: s["state"] for s in facts["line"]["stations"]}
    assert states == {
        "white": "in",
        "cyan": "left",
        "magenta": "out",
        "yellow": "in",
        "black": "reference",
        "clear varnish": "invisible",
    }


def test_varnish_is_listed_everywhere_and_measured_nowhere(facts):
    assert facts["quality"]["unmeasurable"] == ["clear varnish"]
    assert facts["pictures"][0]["unmeasurable"] == ["clear varnish"]
    assert any("clear varnish" in sentence for sentence in facts["sentences"])
    assert "clear varnish" not in {row["ink"] for row in facts["quality"]["rows"]}


def test_counts_of_ok_doubtful_and_missing_are_those_of_the_table(facts, invented):
    offsets = invented[1]
    for row in facts["quality"]["rows"]:
        mine = offsets[offsets["ink"] == row["ink"]]
        for status in ("ok", "doubtful", "missing"):
            assert row[status] == (mine["status"] == status).sum()
    assert [r["missing"] for r in facts["quality"]["rows"] if r["ink"] == "white"] == [3]


def test_reasons_for_doubt_are_counted(facts):
    yellow = next(r for r in facts["quality"]["rows"] if r["ink"] == "yellow")
    assert yellow["reasons"] == [
        {"why": "something else is printed on or against the mark", "frames": 1}
    ]


def test_skipped_frames_keep_their_reason(facts, invented):
    skipped = invented[0].inputs.skipped[0]
    assert facts["quality"]["skipped"] == [{"frame": skipped.frame, "why": skipped.why}]


def test_moves_split_into_to_make_and_leave(facts, invented):
    made = {
        (one["ink"], m["axis"], m["words"]) for one in facts["moves"]["make"] for m in one["moves"]
    }
    assert made == {(c.ink, c.axis, c.words) for c in invented[0].corrections if c.move_mm}
    # No station is told both to move and to be left alone on the same axis.
    left = {(m["ink"], m["axis"]) for m in facts["moves"]["leave"]}
    assert ("magenta", "circumferential") in left
    assert ("white", "") in left


@pytest.mark.parametrize(
    ("ink", "axis", "arrow"),
    [("magenta", "lateral", "operator"), ("yellow", "circumferential", "retard")],
)
def test_arrows_point_against_the_offset(facts, ink, axis, arrow):
    """+ lateral is cured toward the operator side, - circumferential by retarding (contract)."""
    station = next(one for one in facts["moves"]["make"] if one["ink"] == ink)
    assert {m["axis"]: m["arrow"] for m in station["moves"]}[axis] == arrow


def test_tolerances_carry_their_source(facts):
    sources = {t["ink"]: t["source"] for t in facts["origins"]["tolerances"]}
    assert sources == {"all colours": "house rule", "white": "agreed with the customer"}


def test_notes_of_the_run_come_first_among_the_cautions(facts, invented):
    assert invented[0].drift.notes[0].split(":")[0][1:] in facts["cautions"][0]
    assert any("stop, isolate, then check" in caution for caution in facts["cautions"])


def test_a_table_from_elsewhere_has_no_marks_and_no_camera(invented):
    run, offsets, _ = invented
    facts = report_facts(replace(run, cameras=()), offsets, None)
    assert facts["quality"]["marks_known"] is False
    assert facts["pictures"][0]["web_travel"] == "up"
    assert facts["origins"]["cameras"] == []


def test_two_cameras_are_kept_apart(invented):
    run, offsets, _ = invented
    other = offsets.copy()
    other["camera"] = "second"
    tracks = tuple(replace(t, camera="second") for t in run.drift.tracks)
    run = replace(run, drift=replace(run.drift, tracks=run.drift.tracks + tracks))
    import numpy as np

    facts = report_facts(run, np.concatenate([offsets, other]), None)
    assert len(facts["pictures"]) == 2
    assert [c["view"] for c in facts["charts"]["curves"]] == [""] * 8 + ["camera second"] * 8
    cyan = facts["line"]["stations"][1]
    assert [place["words"] for place in cyan["places"]] == ["", "camera second"]


def test_verdict_sentence_does_not_repeat_the_heading(invented):
    run, offsets, _ = invented
    verdict = replace(run.verdict, sentence="Out of tolerance: cyan is late.")
    facts = report_facts(replace(run, verdict=verdict), offsets, None)
    assert facts["verdict"]["sentence"] == "Cyan is late."


def test_what_a_fixed_setting_cannot_cure_is_said(facts):
    """Cyan settles inside and is left alone, yet it goes out at low speed."""
    assert any("No fixed setting cures cyan:" in sentence for sentence in facts["sentences"])


def test_worst_point_stands_in_the_target_where_the_run_has_it(facts, invented):
    track = next(t for t in invented[0].drift.tracks if t.ink == "cyan" and t.stretches)
    worst = max(abs(s.worst_mm) for s in track.stretches)
    line = facts["line"]
    (place,) = line["stations"][1]["places"]
    ((x, y),) = place["worst"]
    # Web travel is up: late lies below, + y; the target's half side is 100 units.
    assert y == pytest.approx(100 * worst / line["half_mm"], abs=0.1)
    assert abs(x) < 1.0
    assert y <= 100.0


def test_an_offset_of_zero_has_no_side(facts):
    white = next(m for m in facts["pictures"][0]["marks"] if m["ink"] == "white")
    for figure in white["figures"]:
        assert (figure["mm"] is None) == (figure["words"] == "on place")


def test_a_first_print_far_off_is_never_called_within_tolerance(invented):
    """Still frames have no stretches; the levels alone must say who lies outside."""
    run, offsets, _ = invented
    tracks = tuple(
        replace(
            t, stretches=(), settled=replace(t.settled, mean_mm=0.5 if t.ink == "cyan" else 0.01)
        )
        for t in run.drift.tracks
    )
    run = replace(run, kind="measure", drift=replace(run.drift, tracks=tracks))
    first = report_facts(run, offsets, None)["sentences"][0]
    assert first.startswith("Cyan (station 2)")
    assert "0.500 ±0.002 mm late" in first
    inside = tuple(replace(t, settled=replace(t.settled, mean_mm=0.01)) for t in tracks)
    run = replace(run, drift=replace(run.drift, tracks=inside))
    assert "within its tolerance" in report_facts(run, offsets, None)["sentences"][0]
    unknown = tuple(replace(t, settled=None) for t in tracks)
    run = replace(run, drift=replace(run.drift, tracks=unknown))
    assert "No colour could be measured" in report_facts(run, offsets, None)["sentences"][0]


def test_a_level_that_rests_on_doubtful_frames_says_so(invented):
    run, offsets, _ = invented
    tracks = tuple(
        replace(t, settled=replace(t.settled, doubtful=True),
                levels=tuple(replace(level, doubtful=True) for level in t.levels))
        for t in run.drift.tracks
    )  # fmt: skip
    html = page(report_facts(replace(run, drift=replace(run.drift, tracks=tracks)), offsets, None))
    assert html.count("△ doubtful</span>") == sum(len(t.levels) for t in tracks) + len(tracks)


def test_single_frames_outside_are_not_called_inside_throughout(facts):
    curve = next(c for c in facts["charts"]["curves"] if c["ink"] == "yellow")
    spiked = {**curve, "y": [0.5, *curve["y"][1:]], "stretches": []}
    charts = {**facts["charts"], "curves": [spiked]}
    ((group,),) = [chart_groups({**facts, "charts": charts})]
    assert group["curves"][0]["outside_words"] == "1 single frame outside, no stretch"


def test_sentence_without_metres_or_speed_is_still_a_sentence(invented):
    run, offsets, _ = invented
    bare = {"from_m": None, "to_m": None, "left_at_speed_m_min": None, "back_at_speed_m_min": None}
    tracks = tuple(
        replace(
            t, metres_outside=None, stretches=tuple(replace(s, **bare) for s in t.stretches) * 2
        )
        for t in run.drift.tracks
    )
    run = replace(run, drift=replace(run.drift, tracks=tracks))
    first = report_facts(run, offsets, None)["sentences"][0]
    assert first.endswith("0.100 mm allowed; 48 frames outside in 2 stretches.")


def test_the_zero_is_named(invented):
    run, offsets, marks = invented
    assert report_facts(run, offsets, marks)["job"]["zero"] == "the design"
    approved = replace(run, job=replace(run.job, zero="approved"))
    facts = report_facts(approved, offsets, marks)
    assert facts["job"]["zero"] == "the approved sheet"
    assert "count from the approved sheet" in page(facts)
