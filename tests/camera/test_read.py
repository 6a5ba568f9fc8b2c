"""camera.toml: read, written, and refused with every mistake at its place."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.camera.read import read_camera, write_camera
from regscan.errors import BadCamera, BadOutput
from tests.camera.test_camera import PAIR_NAMES
from tests.job.example import example_text

GOOD = 'format = 1\nmm_per_px = 0.012\nweb_travel = "up"\ndrive_side = "right"\n'

relaxed = settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def camera_of(tmp_path, text):
    path = tmp_path / "camera.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    return read_camera(path)


def lying(travel, side):
    return f'format = 1\nmm_per_px = 0.012\nweb_travel = "{travel}"\ndrive_side = "{side}"\n'


def test_the_manuals_example_is_read(tmp_path):
    camera = camera_of(tmp_path, example_text("camera_file.md"))
    assert camera == Camera(0.012, 0.012, "up", "right", 0.0, "srgb", "", "")


def test_pixels_that_are_not_square(tmp_path):
    text = GOOD.replace("mm_per_px = 0.012", "row_mm_per_px = 0.010\ncol_mm_per_px = 0.012")
    camera = camera_of(tmp_path, text)
    assert (camera.row_mm_per_px, camera.col_mm_per_px) == (0.010, 0.012)


@pytest.mark.parametrize(("travel", "side"), PAIR_NAMES)
def test_all_legal_pairs_are_read(tmp_path, travel, side):
    camera = camera_of(tmp_path, lying(travel, side))
    assert (camera.web_travel, camera.drive_side) == (travel, side)


@pytest.mark.parametrize(
    ("travel", "side"),
    [(a, b) for group in (("up", "down"), ("left", "right")) for a in group for b in group],
)
def test_a_drive_side_along_the_travel_is_refused(tmp_path, travel, side):
    with pytest.raises(BadCamera, match=r"drive_side: .* lies along"):
        camera_of(tmp_path, lying(travel, side))


MISTAKES = [
    (("mm_per_px = 0.012", "mm_per_px = -0.012"), "mm_per_px", "must be 0.00001 or more"),
    (("mm_per_px = 0.012", "mm_per_px = nan"), "mm_per_px", "must be a finite number"),
    (("mm_per_px = 0.012", "mm_per_px = 12"), "mm_per_px", "must be 1 or less"),
    (("mm_per_px = 0.012", ""), "mm_per_px", "is missing"),
    (("mm_per_px = 0.012", "row_mm_per_px = 0.012"), "col_mm_per_px", "is missing"),
    (("mm_per_px", "row_mm_per_px = 0.012\nmm_per_px"), "mm_per_px", "is given beside"),
    (('"up"', '"upp"'), "web_travel", "did you mean 'up'"),
    (('web_travel = "up"', ""), "web_travel", "is missing"),
    (('drive_side = "right"', ""), "drive_side", "is missing"),
    (("format = 1", "format = 1\nrotation_deg = 60"), "rotation_deg", "must be 45 or less"),
    (("format = 1", 'format = 1\ntone = "gamma"'), "tone", "linear"),
    (("format = 1", 'format = 1\nmosaic = "rgbg"'), "mosaic", "did you mean 'rggb'"),
    (("format = 1", "format = 1\nrotation = 2"), "rotation", "did you mean 'rotation_deg'"),
    (("format = 1", "format = 2"), "format", "reads format 1"),
    (("format = 1", ""), "format", "is missing"),
]


@pytest.mark.parametrize(("edit", "place", "words"), MISTAKES)
def test_one_mistake_is_named_at_its_place(tmp_path, edit, place, words):
    assert edit[0] in GOOD
    with pytest.raises(BadCamera) as caught:
        camera_of(tmp_path, GOOD.replace(*edit))
    (problem,) = caught.value.problems
    assert problem.place == place
    assert words in str(problem)
    assert problem.cure


def test_all_mistakes_at_once(tmp_path):
    with pytest.raises(BadCamera) as caught:
        camera_of(tmp_path, 'format = 1\nmm_per_px = -1\nweb_travel = "upp"\nhue = 3\n')
    places = {problem.place for problem in caught.value.problems}
    assert places == {"mm_per_px", "web_travel", "hue", "drive_side"}


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(BadCamera, match="no such file"):
        read_camera(tmp_path / "camera.toml")


@relaxed
@given(
    st.sampled_from(PAIR_NAMES),
    st.floats(1e-5, 1.0),
    st.floats(1e-5, 1.0),
    st.floats(-45, 45),
    st.sampled_from(["srgb", "linear"]),
    st.sampled_from(["", "rggb", "bggr", "grbg", "gbrg"]),
    st.text(st.characters(blacklist_categories=["C"]), max_size=20),
)
def test_written_and_read_again_is_the_same(tmp_path, pair, row, col, turn, tone, mosaic, name):
    camera = Camera(row, col, pair[0], pair[1], turn, tone, mosaic, name)
    write_camera(camera, tmp_path / "camera.toml")
    assert read_camera(tmp_path / "camera.toml") == camera
    assert [path.name for path in tmp_path.iterdir()] == ["camera.toml"]


def test_a_place_that_cannot_be_written_to(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(BadOutput, match="cannot be written"):
        write_camera(Camera(0.01, 0.01), tmp_path / "file" / "camera.toml")


@relaxed
@given(st.one_of(st.text(), st.binary(max_size=100), st.text("\"'=[]. 0aupleft_\n", max_size=60)))
def test_any_text(tmp_path, data):
    try:
        camera_of(tmp_path, data)
    except BadCamera as bad:
        problems = bad.problems
    else:
        return
    assert problems
