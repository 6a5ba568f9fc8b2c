"""[lens] and [direction] in camera.toml: read, written, refused with every mistake at its place."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.camera.direction import DirectionCheck
from regscan.camera.lens import CalibrationDoubt, LateralColour, Lens
from regscan.camera.read import read_camera, write_camera, write_direction
from regscan.errors import BadCamera, BadOutput
from tests.camera.test_read import GOOD, camera_of, relaxed
from tests.job.example import example_text

LENS = """
[lens]
rows_px = 1024
cols_px = 1280
centre_px = [511.5, 639.5]
radial_px = [4.0, -0.5]

[lens.red]
scale_px = 0.8

[lens.doubt]
rotation_deg = 0.02
"""
DIRECTION = '\n[direction]\nink = "cyan"\ncircumferential_moved_mm = -0.1\n'

px = st.floats(-2.0, 2.0)
pairs = st.tuples(px, px)
some_mm = st.none() | st.floats(-1, 1)
lenses = st.builds(
    Lens,
    st.just(1024),
    st.just(1280),
    st.tuples(st.floats(400, 600), st.floats(500, 700)),
    st.lists(px, max_size=3).map(tuple),
    pairs,
    pairs,
    px,
    st.builds(LateralColour, px, px, px, px),
    st.builds(LateralColour, px, px, px, px),
    st.builds(CalibrationDoubt, *[st.floats(0, 1)] * 5),
)
checks = st.builds(
    DirectionCheck,
    st.text(st.characters(blacklist_categories=["C"]), min_size=1, max_size=20),
    some_mm,
    some_mm,
    st.none() | st.floats(0, 1),
    some_mm,
    some_mm,
    st.none() | st.floats(0, 1),
)


@relaxed
@given(st.none() | lenses, st.none() | checks)
def test_written_and_read_again_is_the_same(tmp_path, lens, direction):
    camera = Camera(0.012, 0.013, "left", "up", 0.3, lens=lens, direction=direction)
    write_camera(camera, tmp_path / "camera.toml")
    assert read_camera(tmp_path / "camera.toml") == camera


def test_what_is_left_out_is_nothing(tmp_path):
    camera = camera_of(tmp_path, GOOD + LENS + DIRECTION)
    expected = Lens(1024, 1280, (511.5, 639.5), (4.0, -0.5), red=LateralColour(scale_px=0.8),
                    doubt=CalibrationDoubt(rotation_deg=0.02))  # fmt: skip
    assert camera.lens == expected
    assert camera.direction == DirectionCheck("cyan", -0.1)
    assert camera.direction.unproven == ("lateral",)


def test_the_manuals_tables_are_read(tmp_path):
    camera = camera_of(tmp_path, GOOD + example_text("camera_file.md", 1))
    assert camera.lens is not None
    assert camera.lens.parts_colours
    assert camera.direction is not None
    assert camera.direction.unproven == ()


MISTAKES = [
    (("rows_px = 1024", "rows_px = -4"), "lens.rows_px", "must be 16 or more"),
    (("rows_px = 1024", "rows_px = 10.5"), "lens.rows_px", "whole number"),
    (("cols_px = 1280\n", ""), "lens.cols_px", "is missing"),
    (("[511.5, 639.5]", "511.5"), "lens.centre_px", "must be a list"),
    (("[511.5, 639.5]", "[511.5]"), "lens.centre_px[2]", "is missing"),
    (("[4.0, -0.5]", "[4.0, nan]"), "lens.radial_px[2]", "must be a finite number"),
    (("[4.0, -0.5]", "[1.0, 1.0, 1.0, 1.0]"), "lens.radial_px", "at most 3"),
    (("radial_px", "radial"), "lens.radial", "did you mean 'radial_px'"),
    (("scale_px = 0.8", "scale_px = 80"), "lens.red.scale_px", "must be 50 or less"),
    (("[lens.red]", "[lens.rot]"), "lens.rot", "is not a key of this table"),
    (("rotation_deg = 0.02", "rotation_deg = -1"), "lens.doubt.rotation_deg", "must be 0 or more"),
    (("[4.0, -0.5]", "[-900.0]"), "lens", "bends the frame over itself"),
    (('ink = "cyan"', 'ink = ""'), "direction.ink", "must not be empty"),
    (("moved_mm = -0.1", 'moved_mm = "x"'), "direction.circumferential_moved_mm", "a number"),
    (("circumferential_moved_mm", "moved_mm"), "direction.moved_mm", "is not a key of this table"),
]


@pytest.mark.parametrize(("edit", "place", "words"), MISTAKES)
def test_one_mistake_is_named_at_its_place(tmp_path, edit, place, words):
    whole = GOOD + LENS + DIRECTION
    assert edit[0] in whole
    with pytest.raises(BadCamera) as caught:
        camera_of(tmp_path, whole.replace(*edit))
    (problem,) = caught.value.problems
    assert problem.place == place
    assert words in str(problem)
    assert problem.cure


@pytest.mark.parametrize("value", ["3", '"wide"', "[1, 2]", "true"])
@pytest.mark.parametrize("name", ["lens", "direction"])
def test_a_table_must_be_one(tmp_path, name, value):
    with pytest.raises(BadCamera, match=f"{name}: must be a table"):
        camera_of(tmp_path, f"{name} = {value}\n{GOOD}")


def test_all_mistakes_at_once(tmp_path):
    whole = (GOOD + LENS + DIRECTION).replace("0.012", "-1").replace("1024", "0")
    with pytest.raises(BadCamera) as caught:
        camera_of(tmp_path, whole.replace("scale_px", "skale_px").replace('"cyan"', "7"))
    places = {problem.place for problem in caught.value.problems}
    assert places == {"mm_per_px", "lens.rows_px", "lens.red.skale_px", "direction.ink"}


PROVEN = DirectionCheck("cyan", -0.1, -0.0998, 0.002, None, None, None)


@pytest.mark.parametrize("before", ["", LENS, DIRECTION, DIRECTION + LENS, LENS + DIRECTION])
def test_a_direction_is_put_into_a_file_and_all_else_stays(tmp_path, before):
    path = tmp_path / "camera.toml"
    path.write_text("# mine\n" + GOOD + before)
    camera = read_camera(path)
    write_direction(replace(camera, direction=PROVEN), path, path)
    assert read_camera(path) == replace(camera, direction=PROVEN)
    text = path.read_text()
    assert text.startswith("# mine\n" + GOOD.rstrip())
    assert text.count("[direction]") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["camera.toml"]


def test_a_direction_may_go_to_another_file(tmp_path):
    path, other = tmp_path / "camera.toml", tmp_path / "out" / "camera.toml"
    path.write_text(GOOD)
    write_direction(Camera(0.012, 0.012, direction=PROVEN), path, other)
    assert path.read_text() == GOOD
    assert read_camera(other).direction == PROVEN
    with pytest.raises(BadOutput):
        write_direction(Camera(0.012, 0.012, direction=PROVEN), path, path / "camera.toml")
