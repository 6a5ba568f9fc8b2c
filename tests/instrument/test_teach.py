"""What is learnt from drawn sheets is what was drawn, and what does not fit is said."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.camera.camera import Camera
from regscan.errors import BadFrames, BadJob
from regscan.instrument.by_layout import read_by_layout
from regscan.instrument.teach import Sheet, apply, check_zero, learn
from regscan.job.job import CameraPost, Colour, Ink
from regscan.job.layout import Disc, Ring
from regscan.marks.finder import MarkFinder
from regscan.offsets.measure import measure_offsets
from regscan.recording.frame import Frame, FrameInfo
from regscan.recording.sources import open_recording
from regscan.simulator.draw import draw_frame
from regscan.simulator.ink import light_of
from regscan.simulator.look import Look, Overprint, Sensor, Shot
from regscan.simulator.write import encode
from tests.instrument.sheets import (
    CAMERA,
    EXPOSURE,
    QUIET,
    ROUGH,
    crosses,
    taught,
    untaught,
)
from tests.marks.conftest import six_colours

JOB = six_colours()
# Solids on each other, published FOGRA39L Lab (see tests/outside/data): no product of the inks.
OVERPRINTS = {
    frozenset({"cyan", "yellow"}): (50.0, -65.0, 27.0),
    frozenset({"magenta", "yellow"}): (47.0, 68.0, 48.0),
    frozenset({"cyan", "magenta", "yellow"}): (23.0, 0.0, 0.0),
}


def drawn_light(colour):
    """Shares of full scale at which the simulator's camera shows a colour."""
    return EXPOSURE * light_of(colour, "test", JOB)


@pytest.mark.parametrize("told", [JOB, untaught(JOB)], ids=["colours known", "nothing known"])
def test_colours_are_learnt_as_they_were_drawn(tmp_path, told):
    learnt = taught(tmp_path, JOB, told=told)
    assert learnt.found == ("by the job's colours" if told is JOB else "by layout and shape")
    assert learnt.substrate.camera == pytest.approx(tuple(drawn_light(JOB.substrate)), abs=0.003)
    for ink in JOB.inks:
        # The simulator clips what is brighter than its paper; the taught value is what it drew.
        wanted = np.minimum(drawn_light(ink.colour), learnt.substrate.camera)
        assert learnt.inks[ink.name].camera == pytest.approx(tuple(wanted), abs=0.003), ink.name
        assert learnt.inks[ink.name].frames == 2
        assert learnt.inks[ink.name].spread < 0.3
    assert learnt.remarks == ()


def test_the_zero_is_where_the_sheet_was_printed_and_its_doubt_is_true(tmp_path):
    off = {"cyan": (0.060, -0.050), "green": (-0.030, 0.020)}
    pulls = []
    for sheet in range(4):
        folder = tmp_path / str(sheet)
        learnt = taught(folder, JOB, offsets=off, look=ROUGH, frames=2, first=10 * sheet)
        for mark in learnt.marks:
            if mark.ink == JOB.reference:
                assert mark.approved is None
                continue
            wanted, here = off.get(mark.ink, (0.0, 0.0)), mark.approved
            pulls.append((here.circumferential_mm - wanted[0]) / here.circumferential_sd_mm)
            pulls.append((here.lateral_mm - wanted[1]) / here.lateral_sd_mm)
            assert abs(here.circumferential_mm - wanted[0]) < 0.005
    # 40 pulls, of which the shared reference leaves about 15 independent; the larger of the
    # frames' spread and their own doubt counts, so the claim leans to the safe side.
    assert 0.5 < np.sqrt(np.mean(np.square(pulls))) < 1.35


def test_registering_to_the_approved_sheet_finds_the_sheet_in_register(tmp_path):
    off = {"cyan": (0.060, -0.050)}
    learnt = taught(tmp_path, JOB, offsets=off)
    for zero, wanted in (("approved", (0.010, 0.0)), ("design", (0.070, -0.050))):
        job = apply(JOB, learnt, zero)
        now = {"cyan": (0.070, -0.050)}
        frame, _ = draw_frame(JOB, CAMERA, now, QUIET, Shot(480, 640, seed=77))
        marks = MarkFinder(job, CAMERA).measure(frame)
        by_ink = {o.ink: o for o in measure_offsets(marks, job, CAMERA)}
        assert {o.status for o in by_ink.values()} == {"ok"}
        assert by_ink["cyan"].circumferential_mm == pytest.approx(wanted[0], abs=0.0005)
        assert by_ink["cyan"].lateral_mm == pytest.approx(wanted[1], abs=0.0005)


def test_overprints_are_learnt_where_marks_lie_on_each_other(tmp_path):
    overprints = tuple(Overprint(k, Colour("lab", lab)) for k, lab in OVERPRINTS.items())
    look = Look(sensor=Sensor(noise_grey=1.5), overprints=overprints)
    learnt = taught(tmp_path, crosses(), look=look, offsets={"cyan": (0.05, 0.1)})
    for inks, lab in OVERPRINTS.items():
        wanted = tuple(drawn_light(Colour("lab", lab)))
        assert learnt.overprints[inks].camera == pytest.approx(wanted, abs=0.004), sorted(inks)
        assert learnt.overprints[inks].difference is None  # the job said nothing of it
    cyan = next(m.approved for m in learnt.marks if m.ink == "cyan")
    assert (cyan.circumferential_mm, cyan.lateral_mm) == pytest.approx((0.05, 0.1), abs=0.001)


@pytest.mark.parametrize(
    ("white", "found", "apart"),
    [
        # Blue at 30 % of its light: outlines still step the way the job's colours say.
        ((1.0, 0.8, 0.55), "by the job's colours", 10.0),
        # At 6 %: only layout and shape are left, and black has half a dozen codes.
        ((1.0, 0.5, 0.25), "by layout and shape", 12.0),
    ],
)
def test_a_camera_with_another_white_is_no_obstacle(tmp_path, white, found, apart):
    def tinted(pixels):
        return np.rint(pixels * np.array(white)).astype(np.uint8)

    learnt = taught(tmp_path, JOB, change=tinted)
    assert learnt.found == found
    assert any("substrate's hue is far from the job's" in r for r in learnt.remarks)
    # Every ink over its own substrate is still the ink that the job names.
    assert all(colour.difference < apart for colour in learnt.inks.values())
    frame, _ = draw_frame(JOB, CAMERA, {}, QUIET, Shot(480, 640, seed=5))
    tinted_frame = Frame(FrameInfo("t", 0), tinted(frame.pixels))
    marks = MarkFinder(apply(JOB, learnt), CAMERA).measure(tinted_frame)
    assert {mark.status for mark in marks} == {"ok"}


def test_a_mark_that_is_alone_needs_no_layout():
    """As a camera over the first station sees it."""
    alone = replace(JOB, marks=JOB.marks[1:2])
    frame, truth = draw_frame(alone, CAMERA, {}, QUIET, Shot(480, 640))
    (spot,) = read_by_layout(frame, CAMERA, alone.marks).spots
    true = truth.mark(alone.marks[0].ink)
    assert (spot.row_px, spot.col_px) == pytest.approx((true.row_px, true.col_px), abs=2.0)


def test_one_grey_channel_is_taught_by_layout_and_shape(tmp_path):
    look = Look(sensor=Sensor(noise_grey=1.5, mono=True))
    learnt = taught(tmp_path, JOB, told=untaught(JOB), look=look)
    for colour in learnt.inks.values():
        assert colour.camera[0] == colour.camera[1] == colour.camera[2]
    darkest = min(learnt.inks, key=lambda ink: learnt.inks[ink].camera[0])
    assert darkest == "black"
    assert any("one grey channel" in remark for remark in learnt.remarks)


def test_two_inks_taken_for_each_other_are_named(tmp_path):
    swap = {"cyan": "magenta", "magenta": "cyan"}
    inks = tuple(replace(i, colour=JOB.ink(swap.get(i.name, i.name)).colour) for i in JOB.inks)
    learnt = taught(tmp_path, JOB, told=replace(JOB, inks=inks))
    said = " / ".join(learnt.remarks)
    assert "cyan is far from the job's colour" in said
    assert "looks like magenta" in said
    assert "looks like cyan" in said


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (Ring(0.5, 0.2), "is not printed"),
        (Disc(0.6), "times the area"),
        (Disc(0.4), "times the area"),
    ],
)
def test_a_mark_of_another_shape_is_named(tmp_path, shape, words):
    drawn = _with_cyan(shape)
    learnt = taught(tmp_path, drawn, told=JOB)
    assert any("cyan" in remark and words in remark for remark in learnt.remarks)


def test_a_sheet_that_is_itself_out_of_tolerance_is_named(tmp_path):
    learnt = taught(tmp_path, JOB, offsets={"brown": (0.0, 0.15)}, frames=1)
    assert any("brown lies +0.150 mm off the design" in remark for remark in learnt.remarks)
    assert any("one frame only" in remark for remark in learnt.remarks)


def test_an_overexposed_sheet_is_named(tmp_path):
    learnt = taught(tmp_path, JOB, look=Look(sensor=Sensor(exposure=1.4, noise_grey=1.5)))
    assert "overexposed" in learnt.remarks[0]


def test_an_unreadable_frame_is_said_and_the_rest_is_used(tmp_path):
    (tmp_path / "9.png").write_bytes(b"\x89PNG\r\n")
    learnt = taught(tmp_path, JOB)
    assert learnt.frames == 2
    assert any(remark.startswith("9.png was not used") for remark in learnt.remarks)


def _with_cyan(shape):
    marks = tuple(replace(m, shape=shape) if m.ink == "cyan" else m for m in JOB.marks)
    return replace(JOB, marks=marks)


def test_an_ink_that_is_not_printed_is_refused(tmp_path):
    drawn = replace(JOB, marks=tuple(m for m in JOB.marks if m.ink != "green"))
    for told in (JOB, untaught(JOB)):
        with pytest.raises(BadFrames, match="green") as refused:
            taught(tmp_path, drawn, told=told)
        assert all(problem.cure for problem in refused.value.problems)


def test_marks_on_each_other_cannot_be_taught_from_nothing(tmp_path):
    with pytest.raises(BadJob, match="cyan, magenta, yellow, black lie on or against each other"):
        taught(tmp_path, crosses(), told=untaught(crosses()), frames=1)


def test_a_layout_that_repeats_itself_is_not_guessed_at(tmp_path):
    """Four discs in a row, drawn among six: three readings, and nothing tells which is right."""
    discs = six_colours((Disc(0.5),) * 6)
    row = tuple(
        replace(m, circumferential_mm=0.0, lateral_mm=0.9 * k) for k, m in enumerate(discs.marks)
    )
    drawn = replace(discs, marks=row)
    told = untaught(replace(drawn, marks=row[:4], inks=drawn.inks[:4]))
    with pytest.raises(BadFrames, match="read in two ways"):
        taught(tmp_path, drawn, told=told, frames=1)


def test_frames_whose_camera_cannot_see_an_ink_are_refused(tmp_path):
    post = CameraPost("middle", 3, 0.5)
    job = replace(JOB, press=replace(JOB.press, cameras=(post,)))
    with pytest.raises(BadFrames, match="see no mark of black, green, brown"):
        taught(tmp_path, job, frames=1)


def test_the_approved_zero_needs_every_mark(tmp_path):
    learnt = taught(tmp_path, JOB, frames=1)
    lacking = tuple(replace(m, approved=None) if m.ink == "cyan" else m for m in learnt.marks)
    part = replace(learnt, marks=lacking)
    check_zero(part, JOB, "design", "sheet")
    with pytest.raises(BadFrames, match="cyan: its place on the approved sheet was not learnt"):
        check_zero(part, JOB, "approved", "sheet")


def _on_kraft():
    """A dark substrate with an opaque white where yellow was; colours as they print on it."""
    white = Ink("white", Colour("lab", (94.0, 0.0, 2.0)), "opaque")
    press = replace(
        JOB.press,
        stations=tuple(
            replace(s, ink="white") if s.ink == "yellow" else s for s in JOB.press.stations
        ),
    )
    return replace(
        JOB,
        press=press,
        substrate=Colour("lab", (62.0, 10.0, 28.0)),
        inks=tuple(white if ink.name == "yellow" else ink for ink in JOB.inks),
        marks=tuple(replace(m, ink="white") if m.ink == "yellow" else m for m in JOB.marks),
    )


def test_white_on_a_dark_substrate_is_taught_from_nothing(tmp_path):
    job = _on_kraft()
    look = Look(sensor=Sensor(noise_grey=1.5), grain_grey=4.0)
    learnt = taught(tmp_path, job, told=untaught(job), look=look)
    wanted = EXPOSURE * light_of(job.ink("white").colour, "test", job)
    assert learnt.inks["white"].camera == pytest.approx(tuple(wanted), abs=0.01)
    assert min(learnt.inks["white"].camera) > max(learnt.substrate.camera)
    assert all(mark.frames == 2 for mark in learnt.marks)


@pytest.mark.parametrize(
    ("camera", "sensor"),
    [
        (Camera(0.012, 0.012, mosaic="rggb"), Sensor(noise_grey=1.5)),
        (Camera(0.012, 0.012, tone="linear"), Sensor(noise_grey=1.5, bits=16)),
    ],
    ids=["raw mosaic", "16 bit linear"],
)
def test_other_cameras(tmp_path, camera, sensor):
    look = Look(sensor=sensor)
    learnt = taught(tmp_path, JOB, told=untaught(JOB), camera=camera, look=look, frames=1)
    for ink in JOB.inks:
        wanted = np.minimum(drawn_light(ink.colour), learnt.substrate.camera)
        assert learnt.inks[ink.name].camera == pytest.approx(tuple(wanted), abs=0.004), ink.name


def test_two_web_edges_seen_by_two_cameras(tmp_path):
    """One camera after station 3, one after station 6; each sees both edges in frames of their
    own. Only the operator side's cyan is printed off."""
    edges = ("operator", "drive")
    posts = (CameraPost("middle", 3, 0.5), CameraPost("end", 6, 1.0))
    marks = tuple(replace(m, edge=edge) for edge in edges for m in JOB.marks)
    job = replace(JOB, reference="magenta", marks=marks, press=replace(JOB.press, cameras=posts))
    rows = ["frame,camera,edge"]
    for post in posts:
        for edge in edges:
            off = {"cyan": (0.03, 0.01)} if edge == "operator" else {}
            shot = Shot(480, 640, seed=len(rows), camera=post.name, edge=edge)
            frame, _ = draw_frame(job, CAMERA, off, QUIET, shot)
            name = f"{post.name}_{edge}.png"
            (tmp_path / name).write_bytes(encode(frame.pixels, "png"))
            rows.append(f"{name},{post.name},{edge}")
    (tmp_path / "frames.csv").write_text("\n".join(rows) + "\n")
    recording = open_recording([tmp_path])
    sheet = Sheet(recording.sources, job, {p.name: CAMERA for p in posts}, str(tmp_path))
    learnt = learn(sheet)
    cyan = {m.edge: m for m in learnt.marks if m.ink == "cyan"}
    assert cyan["operator"].approved.circumferential_mm == pytest.approx(0.03, abs=0.0005)
    assert cyan["drive"].approved.circumferential_mm == pytest.approx(0.0, abs=0.0005)
    assert cyan["drive"].frames == 2  # seen by both cameras
    assert {m.frames for m in learnt.marks if m.ink == "brown"} == {1}
    assert set(learnt.inks) == {ink.name for ink in job.inks}
    assert not any("good in" in remark for remark in learnt.remarks)
    check_zero(learnt, job, "approved", "sheet")
