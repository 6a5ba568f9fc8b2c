"""The manual's job file is a job file, and means what its comments say."""

import re

import pytest

from regscan.job.job import Colour, Overprint, Steps, Tolerance
from regscan.job.layout import Approved, Cross, Diamond, Disc, Polygon, Ring, Square
from regscan.job.read import read_job
from regscan.job.shapes import SHAPES
from tests.job.example import DOCS, changed, example_text


def job_of(tmp_path, text):
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_job(path)


def test_the_manuals_example_is_read(tmp_path):
    job = job_of(tmp_path, example_text())
    assert job.name == "Honey jar, six colours"
    assert [s.ink for s in job.press.stations] == [
        "white", "cyan", "magenta", "yellow", "black", "varnish",
    ]  # fmt: skip
    assert [s.number for s in job.press.stations] == [1, 2, 3, 4, 5, 6]
    assert (job.press.repeat_mm, job.press.web_width_mm) == (304.8, 330.0)
    assert job.unmeasurable_inks == ("varnish",)
    assert job.path == str(tmp_path / "job.toml")


def test_web_path_to_the_camera_adds_up(tmp_path):
    job = job_of(tmp_path, example_text())
    # By hand from the example: 1 + 1 + 1 + 1 + 1.2 between stations, 2 to the camera.
    assert abs(job.press.path_to_camera_m(1) - 7.2) < 1e-12
    assert abs(job.press.path_to_camera_m(5, "end") - 3.2) < 1e-12


def test_stations_without_steps_of_their_own_take_the_presses(tmp_path):
    job = job_of(tmp_path, changed(("[correction]\ncircumferential_step_mm = 0.01",
                                    "[correction]\ncircumferential_step_mm = 0.005")))  # fmt: skip
    assert job.press.stations[1].steps == Steps(0.005, 0.01)
    assert job.press.stations[2].steps == Steps(0.02, 0.05)


def test_an_inks_tolerance_takes_the_rest_from_the_whole(tmp_path):
    job = job_of(tmp_path, example_text())
    assert job.tolerance_for("white") == Tolerance(0.20, 0.10, "house rule")
    assert job.tolerance_for("cyan") == Tolerance(0.10, 0.10, "house rule")


def test_colours_in_all_three_ways(tmp_path):
    text = changed(
        ("lab = [93.0, 0.0, -3.0]", 'srgb = "#f4F4f0"'),
        ("lab = [55.0, -37.0, -50.0] ", "taught = true"),
        ("lab = [48.0, 74.0, -3.0]", "taught = true\ncamera = [0.6, 0.1, 0.3]"),
        ("lab = [89.0, -5.0, 93.0]", "srgb = [255, 230, 0]"),
    )
    job = job_of(tmp_path, text)
    assert (job.substrate.space, job.substrate.values) == ("srgb", (244.0, 244.0, 240.0))
    assert (job.ink("cyan").colour.space, job.ink("cyan").colour.values) == ("taught", None)
    assert job.ink("magenta").colour.values == (0.6, 0.1, 0.3)
    assert job.ink("yellow").colour.values == (255.0, 230.0, 0.0)
    assert job.ink("white").cover == "opaque"
    assert job.ink("black").cover == "transparent"


def test_every_shape_by_its_own_measures(tmp_path):
    job = job_of(tmp_path, example_text())
    assert [mark.shape for mark in job.marks] == [
        Ring(1.0, 0.6), Disc(0.8), Cross(1.0, 0.25), Square(0.8), Diamond(1.0, 0.8),
    ]  # fmt: skip
    polygon = 'polygon"\npoints_mm = [[0.5, 0.0], [-0.3, 0.4], [-0.3, -0.4]]\nturn_deg = 90'
    job = job_of(tmp_path, changed(('disc"\ndiameter_mm = 0.8', polygon)))
    assert job.marks[1].shape == Polygon(((0.5, 0.0), (-0.3, 0.4), (-0.3, -0.4)), 90.0)
    assert (job.marks[1].circumferential_mm, job.marks[1].lateral_mm) == (0.0, 1.5)


def test_the_manual_names_every_shape_and_measure():
    page = (DOCS / "job_file.md").read_text(encoding="utf-8")
    for name, shape in SHAPES.items():
        (row,) = [line for line in page.splitlines() if line.startswith(f"| `{name}`")]
        for measure in shape.__dataclass_fields__:
            assert f"`{measure}" in row


def test_written_by_another_editor(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + example_text().replace("\n", "\r\n").encode())
    assert read_job(path).name == "Honey jar, six colours"


@pytest.mark.parametrize("place", ["[0.0, 0.2]", "[0.0, 0.0]"])
def test_marks_of_two_inks_may_overlap_and_coincide(tmp_path, place):
    job = job_of(tmp_path, changed(("at_mm = [0.0, 1.5]", f"at_mm = {place}")))
    assert len(job.marks) == 5


def test_the_colours_of_overprints(tmp_path):
    job = job_of(tmp_path, example_text())
    inks = frozenset({"cyan", "yellow"})
    assert job.overprints == (Overprint(inks, Colour("lab", (50.0, -65.0, 27.0))),)
    taught = "taught = true\ncamera = [0.1, 0.3, 0.1]"
    job = job_of(tmp_path, changed(("lab = [50.0, -65.0, 27.0]", taught)))
    assert job.overprints[0].colour == Colour("taught", (0.1, 0.3, 0.1))
    job = job_of(tmp_path, changed(("lab = [50.0, -65.0, 27.0]", "taught = true")))
    assert job.overprints[0].colour == Colour("taught", None)


def test_the_zero_is_the_designs_unless_it_is_the_approved_sheets(tmp_path):
    job = job_of(tmp_path, changed(('zero = "design" ', "# ")))
    assert (job.zero, job.marks[1].approved) == ("design", None)
    approved = re.sub(r"(?m)^(at_mm = .*)", r"\1\napproved_mm = [0.012, -0.02]", example_text())
    job = job_of(tmp_path, approved.replace('zero = "design"', 'zero = "approved"'))
    assert (job.zero, job.zero_words) == ("approved", "the approved sheet")
    assert job.marks[1].approved == Approved(0.012, -0.02)
    job = job_of(tmp_path, approved.replace("-0.02]", "-0.02]\napproved_sd_mm = [0.001, 0]"))
    assert job.zero == "design"
    assert job.marks[1].approved == Approved(0.012, -0.02, 0.001, 0.0)


def test_one_mark_set_per_web_edge(tmp_path):
    text = example_text()
    sets = [
        text[text.index("[[marks]]") : text.index("# The largest")].replace(
            "[[marks]]", f'[[marks]]\nedge = "{edge}"'
        )
        for edge in ("operator", "drive")
    ]
    whole = text[: text.index("[[marks]]")] + "".join(sets) + text[text.index("# The largest") :]
    job = job_of(tmp_path, whole)
    assert len(job.marks) == 10
    assert {mark.edge for mark in job.marks_seen(edge="drive")} == {"drive"}
