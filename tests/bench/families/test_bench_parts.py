"""The plain script finds clean marks, an eye sees what there is, and sums are right."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.families import unprinted
from bench.families.case import Case, Family
from bench.families.catalogue import FAMILIES
from bench.families.figures import figures_of
from bench.families.judged import Answer, Judged, OffsetAnswer, Row, judged
from bench.families.layouts import SIX_SHAPES, at_one_place, rows_of
from bench.families.limits import LIMITS
from bench.families.plain import PlainScript
from bench.families.run import FRAMES
from bench.families.stock import INKS, SOLIDS, as_printed, job_of, overprints
from bench.families.table import as_json, markdown
from bench.families.visible import sights
from regscan.camera.camera import Camera
from regscan.job.layout import Disc, Square
from regscan.simulator.defects import HalfPrint
from regscan.simulator.draw import draw_frame
from regscan.simulator.look import Lens, Look, Shot
from regscan.simulator.printed import Scene

CAMERA = Camera(0.012, 0.012, "left", "up", 0.8)
SEPARATED, *_ = FAMILIES


def six_apart(look=None, size=(440, 420)):
    job = job_of(rows_of(SIX_SHAPES))
    return Case(job, Scene(job, CAMERA, look or Look(), Shot(*size)), {})


def drawn(case):
    scene = case.scene
    return draw_frame(scene.job, scene.camera, case.offsets, scene.look, scene.shot)


def test_the_plain_script_finds_clean_marks():
    case = six_apart()
    frame, truth = drawn(case)
    places = PlainScript(case.told, CAMERA, mono=False).measure(frame)
    assert set(places) == set(SIX_SHAPES)
    for mark in truth.marks:
        assert places[mark.ink] == pytest.approx((mark.row_px, mark.col_px), abs=0.25)


def test_marks_apart_are_seen_whole():
    for sight in sights(six_apart()):
        assert sight.whole
        assert sight.share > 0.97


def test_a_mark_under_opaque_black_is_not_seen_and_black_is():
    job = job_of(at_one_place({"cyan": Disc(0.4), "black": Disc(0.8)}), opaque=("black",))
    cyan, black = sights(Case(job, Scene(job, CAMERA, Look(), Shot(160, 180)), {}))
    assert cyan.share == 0.0
    assert black.share > 0.97


def test_half_a_print_is_half_seen():
    job = job_of(at_one_place({"black": Square(0.8)}))
    look = Look(defects=(HalfPrint("black", 0.0, 0.0, 0.01),), lens=Lens(0.7))
    (sight,) = sights(Case(job, Scene(job, CAMERA, look, Shot(160, 180)), {}))
    assert sight.share == pytest.approx(0.5, abs=0.03)
    assert sight.whole


def test_a_mark_across_the_border_is_not_whole():
    job = job_of(at_one_place({"black": Square(0.8)}))
    shot = Shot(160, 180, origin_px=(0.0, 90.0))
    (sight,) = sights(Case(job, Scene(job, CAMERA, Look(), shot), {}))
    assert not sight.whole
    assert sight.share == pytest.approx(0.5, abs=0.03)


def test_every_family_has_limits_a_name_of_its_own_and_enough_frames():
    assert len({family.name for family in FAMILIES}) == len(FAMILIES)
    assert {family.group for family in FAMILIES} == set(LIMITS)
    assert FRAMES >= 30


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_a_case_is_the_same_every_time_and_another_in_the_next_frame(family):
    one, again, other = family.case(3), family.case(3), family.case(4)
    assert one == again
    assert one.offsets != other.offsets
    assert one.told.reference in {ink.name for ink in one.told.inks}


def test_overprints_are_the_published_ones():
    """With every density as designed nothing is left but FOGRA39L."""
    job = job_of(at_one_place({"cyan": Disc(0.5), "magenta": Disc(0.5), "black": Disc(0.5)}))
    rng = np.random.default_rng(0)
    printed = as_printed(job, rng, density=0.0, cast=0.0)
    for over in overprints(printed, rng):
        published = SOLIDS[over.inks].light.clip(0.003)
        assert over.colour.values == pytest.approx(published, abs=0.01)
    assert INKS["cyan"] == (55.0, -37.0, -50.0)


def row(error_px, *, status="ok", sd_px=1.0, visible=1.0, offset_mm=0.0, plain_px=2.0):
    return Row(
        "made up",
        0,
        "cyan",
        visible,
        True,
        0.01,
        Answer(error_px, 0.0, sd_px, sd_px, status),
        OffsetAnswer(offset_mm, 0.0, 0.01, 0.01, status),
        Answer(plain_px, 0.0, status="ok"),
        Answer(1.0, 0.0, 1.0, 1.0, "ok"),
    )


def line_of(*rows):
    family = replace(SEPARATED, name="made up")
    return figures_of(family, [Judged(rows, 10.0, 30.0, 20.0)])


def test_figures_of_rows_that_can_be_added_up_by_hand():
    line = line_of(row(1.0), row(-3.0), row(9.0, status="doubtful"), row(3.0, visible=0.3))
    assert (line.marks, line.whole, line.found, line.ok) == (4, 3, 2, 2)
    assert line.misplaced == 1
    assert line.wrong == 0
    assert line.rms_px == pytest.approx(math.sqrt((1 + 9) / 4))
    assert line.rms_um == pytest.approx(10.0 * line.rms_px)
    assert line.times_ideal == pytest.approx(math.sqrt(5.0))
    assert line.beside_plain == pytest.approx(math.sqrt(5.0) / 2.0)
    assert line.coverage == pytest.approx(4 / 6)  # ok rows: errors 1, 3, 3 and three zeros


def test_the_error_of_a_ratio_is_that_of_its_jackknife():
    """Of frames with one mark each: known from pairs that are left out by hand."""
    rows = [replace(row(error), frame=number) for number, error in enumerate((1.0, 2.0, 4.0))]
    without = [math.sqrt(v / 2) for v in (4 + 16, 1 + 16, 1 + 4)]  # the ideal is 1 px off
    middle = sum(without) / 3
    sd = math.sqrt(2.0 / 3.0 * sum((one - middle) ** 2 for one in without))
    assert line_of(*rows).times_ideal_sd == pytest.approx(sd)
    assert math.isnan(line_of(rows[0]).times_ideal_sd)


def test_wrong_is_wrong_as_a_mark_or_as_an_offset():
    assert line_of(row(5.1)).wrong == 1
    assert line_of(row(4.9)).wrong == 0
    assert line_of(row(1.0, offset_mm=0.051)).wrong == 1
    assert line_of(row(1.0, offset_mm=0.051, status="doubtful")).wrong == 0


def test_a_place_of_an_ink_that_is_not_printed_is_wrong_wherever_it_is():
    """Frames of each such family: the one ink left out has a row, and may only be missing."""
    for family in unprinted.FAMILIES:
        case = family.case(3)
        printed = {mark.ink for mark in case.scene.job.marks}
        (lost,) = {mark.ink for mark in case.told.marks} - printed
        rows = {row.ink: row for row in judged(family, 3).rows}
        assert rows.keys() == printed | {lost}
        assert rows[lost].regscan.status == "missing"
        there = Answer(math.inf, math.inf, 1.0, 1.0, "ok")
        assert line_of(replace(rows[lost], regscan=there)).wrong == 1
        assert (
            line_of(replace(rows[lost], regscan=replace(there, status="doubtful"))).misplaced == 1
        )


def test_what_is_missed_is_said():
    assert line_of(*[row(1.0) for _ in range(20)]).missed == ()
    told = " | ".join(line_of(*[row(4.0) for _ in range(20)], row(30.0)).missed)
    assert "1 ok and wrong" in told
    assert "4.00 x ideal, wanted 1.15" in told
    assert "2.00 x the plain script's" in told
    assert "found 95.2 %" in told


@pytest.mark.parametrize(
    ("clean_ms", "missed"), [(4.0, ()), (3.0, ("3.33 x",)), (math.nan, ("nan",))]
)
def test_time_is_held_against_that_of_clean_frames(clean_ms, missed):
    family = replace(SEPARATED, group="hidden")
    frames = [Judged((row(1.0),), took, 30.0, 20.0, clean_ms) for took in (8.0, 10.0, 90.0)]
    line = figures_of(family, frames)
    assert len(line.missed) == len(missed)
    for told, wanted in zip(line.missed, missed, strict=True):
        assert wanted in told


def test_tables_hold_every_family():
    line = line_of(row(1.0))
    assert "| made up | 1 |" in markdown([line])
    assert '"name": "made up"' in as_json([line])
    assert "NaN" not in as_json([line_of(row(1.0, status="missing", visible=0.0))])


def test_a_family_is_made_of_its_frames():
    assert isinstance(SEPARATED, Family)
    assert SEPARATED.case(0).scene.shot.seed != SEPARATED.case(1).scene.shot.seed
