"""Every mistake is said with its place and its cure; all of them at once."""

import pytest

from regscan.errors import BadJob
from regscan.job.read import read_job
from tests.job.example import changed, example_text

RING = "inner_diameter_mm = 0.6"
POLYGON = 'shape = "polygon"\npoints_mm = '
DISC = 'shape = "disc"\ndiameter_mm = 0.8'


def problems_of(tmp_path, text):
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadJob) as caught:
        read_job(path)
    assert str(path) in str(caught.value)
    return caught.value.problems


# (what is changed in the example, the place that is named, words of the problem or its cure)
ONE_MISTAKE = [
    # misspelt and unknown
    (("web_width_mm = 330.0", "web_widht_mm = 330.0"), "press.web_widht_mm", "'web_width_mm'"),
    (("[correction]\nc", "[corection]\nc"), "corection", "did you mean 'correction'"),
    (('shape = "disc"', 'shape = "dics"'), "marks[2].shape", "did you mean 'disc'"),
    (('cover = "opaque"', 'cover = "opake"'), "inks.white.cover", "did you mean 'opaque'"),
    (('ink = "cyan"\npath_m', 'ink = "cian"\npath_m'), "press.stations[2].ink", "'cyan'"),
    (('reference = "black"', 'reference = "balck"'), "reference", "did you mean 'black'"),
    (("[tolerance.inks.white]", "[tolerance.inks.whtie]"), "tolerance.inks.whtie", "'white'"),
    (('ink = "black"\nshape', 'ink = "blakc"\nshape'), "marks[5].ink", "did you mean 'black'"),
    # missing
    (('name = "Press 2"', ""), "press.name", "is missing"),
    (("[substrate]\nlab", "[other]\nlab"), "substrate", "is missing"),
    (("at_mm = [1.5, 0.0]", ""), "marks[4].at_mm", "is missing"),
    (("side_mm = 0.8", ""), "marks[4].side_mm", "is missing"),
    (("path_m = 1.2", ""), "press.stations[6].path_m", "is missing"),
    (('source = "house rule"', "circumferential = 1"), "tolerance.circumferential", "not a key"),
    # numbers
    (("repeat_mm = 304.8", "repeat_mm = -304.8"), "press.repeat_mm", "must be more than 0"),
    (("web_width_mm = 330.0", "web_width_mm = 330.0\nedge_spacing_mm = 331"),
     "press.edge_spacing_mm", "distance from mark to mark"),
    (("repeat_mm = 304.8", "repeat_mm = nan"), "press.repeat_mm", "must be a finite number"),
    (("repeat_mm = 304.8", "repeat_mm = inf"), "press.repeat_mm", "must be a finite number"),
    (("repeat_mm = 304.8", 'repeat_mm = "304.8"'), "press.repeat_mm", "number without quotes"),
    (("repeat_mm = 304.8", "repeat_mm = true"), "press.repeat_mm", "number without quotes"),
    (("repeat_mm = 304.8", "repeat_mm = 1e300"), "press.repeat_mm", "must be 100000 or less"),
    (("diameter_mm = 0.8", "diameter_mm = -0.8"), "marks[2].diameter_mm", "must be 0.001"),
    (("at_mm = [0.0, 1.5]", "at_mm = [0.0, nan]"), "marks[2].at_mm[2]", "finite number"),
    (("at_mm = [0.0, 1.5]", "at_mm = [0.0]"), "marks[2].at_mm", "at least 2 values"),
    (("at_mm = [0.0, 1.5]", "at_mm = 1.5"), "marks[2].at_mm", "list in square brackets"),
    (("path_m = 1.2", "path_m = -1.2"), "press.stations[6].path_m", "must be 0 or more"),
    (("path_m = 1.2", "path_m = 0"), "press.stations[6].path_m", "must be more than 0"),
    (('ink = "white"  ', 'path_m = 1.0\nink = "white"  '), "press.stations[1].path_m", "must be 0"),
    (("lateral_mm = 0.10", "lateral_mm = 0"), "tolerance.lateral_mm", "must be more than 0"),
    (("circumferential_mm = 0.20", "circumferential_mm = -1"),
     "tolerance.inks.white.circumferential_mm", "must be more than 0"),
    (("after_station = 6", "after_station = 7"), "press.cameras[1].after_station", "1 (at the"),
    (("after_station = 6", "after_station = 0"), "press.cameras[1].after_station", "to 6"),
    (("after_station = 6", "after_station = 5.5"), "press.cameras[1].after_station", "whole"),
    (("lateral_step_mm = 0.05", "lateral_step_mm = 0"),
     "press.stations[3].lateral_step_mm", "must be more than 0"),
    # colours
    (("lab = [93.0, 0.0, -3.0]", "lab = [930.0, 0.0, -3.0]"), "substrate.lab[1]", "0 to 100"),
    (("lab = [93.0, 0.0, -3.0]", "lab = [93.0, 0.0]"), "substrate.lab", "at least 3"),
    (("lab = [93.0, 0.0, -3.0]", 'srgb = "#f4f4f"'), "substrate.srgb", "#f4f4f0"),
    (("lab = [93.0, 0.0, -3.0]", "srgb = [1, 2, 256]"), "substrate.srgb", "0 to 255"),
    (("lab = [93.0, 0.0, -3.0]", "camera = [0.1, 0.2, 0.3]"), "substrate.camera", "taught = true"),
    (("lab = [93.0, 0.0, -3.0]", "taught = true\ncamera = [1, 2, 3]"), "substrate.camera", "0 to"),
    (("lab = [16.0, 0.0, 0.0]", ""), "inks.black", "has no colour"),
    (("lab = [16.0, 0.0, 0.0]", 'lab = [16, 0, 0]\nsrgb = "#000000"'), "inks.black", "keep one"),
    # shapes that cannot be
    ((RING, "inner_diameter_mm = 1.0"), "marks[1].inner_diameter_mm", "not smaller"),
    (("stroke_mm = 0.25", "stroke_mm = 1.0"), "marks[3].stroke_mm", "not thinner"),
    ((DISC, POLYGON + "[[0, 0], [1, 1]]"), "marks[2].points_mm", "at least 3"),
    ((DISC, POLYGON + "[[0, 0], [1, 1], [1, 0], [0, 1]]"), "marks[2].points_mm", "cross"),
    ((DISC, POLYGON + "[[0, 0], [1, 1], [2, 2]]"), "marks[2].points_mm", "on a line"),
    ((DISC, POLYGON + "[[0, 0], [1, 0], [1, 1], [0, 0]]"), "marks[2].points_mm", "the same"),
    # parts that do not fit each other
    (('ink = "yellow"\npath_m', 'ink = "cyan"\npath_m'), "press.stations[4].ink", "at station 2"),
    (('reference = "black"', 'reference = "varnish"'), "reference", "invisible"),
    (('ink = "black"\nshape', 'ink = "varnish"\nshape'), "marks[5].ink", "cannot be seen"),
    (('ink = "magenta"\nshape = "cross"\nsize_mm = 1.0\nstroke_mm = 0.25\nturn_deg = 0.0 ',
      'ink = "cyan"\nshape = "cross"\nsize_mm = 1.0\nstroke_mm = 0.25\nturn_deg = 0.0 '),
     "marks[3]", "already has marks[2] in this mark set"),
    # overprints and zero
    (('["cyan", "yellow"]', '["cyan", "yelow"]'), "overprints[1].inks[2]", "'yellow'"),
    (('["cyan", "yellow"]', '["cyan", "varnish"]'), "overprints[1].inks[2]", "invisible"),
    (('["cyan", "yellow"]', '["cyan", "cyan"]'), "overprints[1].inks[2]", "twice"),
    (('["cyan", "yellow"]', '["cyan"]'), "overprints[1].inks", "at least 2"),
    (('["cyan", "yellow"]', '"cyan"'), "overprints[1].inks", "list"),
    (("lab = [50.0, -65.0, 27.0]", "lab = [500.0, -65.0, 27.0]"), "overprints[1].lab[1]", "0 to"),
    (("lab = [50.0, -65.0, 27.0]", ""), "overprints[1]", "has no colour"),
    (("lab = [50.0, -65.0, 27.0]", 'lab = [50, -65, 27]\n[[overprints]]\n'
      'inks = ["yellow", "cyan"]\nlab = [50, -65, 27]\n'), "overprints[2]", "overprints[1]"),
    (('zero = "design"', 'zero = "aproved"'), "zero", "did you mean 'approved'"),
    (("at_mm = [0.0, 1.5]", "at_mm = [0.0, 1.5]\napproved_sd_mm = [0.001, 0.001]"),
     "marks[2].approved_sd_mm", "add approved_mm"),
    (("at_mm = [0.0, 1.5]", "at_mm = [0.0, 1.5]\napproved_mm = [0.01, nan]"),
     "marks[2].approved_mm[2]", "finite"),
    (("at_mm = [0.0, 1.5]", "at_mm = [0.0, 1.5]\napproved_mm = [0.01, 0.02]\n"
      "approved_sd_mm = [0.01, -0.02]"), "marks[2].approved_sd_mm[2]", "0 or more"),
    (("at_mm = [1.5, 1.5]", "at_mm = [1.5, 331.5]"), "marks", "web width"),
    (("at_mm = [1.5, 1.5]", "at_mm = [305.5, 1.5]"), "marks", "repeat"),
    (('ink = "black"\nshape', 'edge = "drive"\nink = "black"\nshape'), "marks[1]", "reference"),
    (("[[press.cameras]]", '[[press.cameras]]\nname = "end"\nafter_station = 2\npath_m = 1\n'
      "[[press.cameras]]"), "press.cameras[2].name", "already the name"),
    # wrong kinds of table
    (("[[press.cameras]]", "[press.cameras]"), "press.cameras", "[[press.cameras]]"),
    (("[inks.varnish]", "[inks]\nvarnish = 1\n[junk]"), "inks.varnish", "must be a table"),
    (("format = 1 ", "format = 2 "), "format", "reads format 1"),
    (("format = 1 ", "#"), "format", "is missing"),
    (('name = "Honey jar, six colours"', 'name = ""'), "name", "must not be empty"),
    (('name = "Honey jar, six colours"', 'name = "a\\nb"'), "name", "no line breaks"),
    (("teeth = 120 ", "teeth = 120\ngirth_mm = 381 "), "press.turning[1]", "give one of girth_mm"),
    (("teeth = 120 ", ""), "press.turning[1]", "has no size"),
    (("station = 3 ", "station = 7 "), "press.turning[1].station", "from 1 to 6"),
]  # fmt: skip


@pytest.mark.parametrize(("edit", "place", "words"), ONE_MISTAKE)
def test_one_mistake_is_named_at_its_place(tmp_path, edit, place, words):
    problems = problems_of(tmp_path, changed(edit))
    at_place = [problem for problem in problems if problem.place == place]
    assert len(at_place) == 1, problems
    assert words in str(at_place[0])
    assert at_place[0].cure, "no cure"


def test_all_mistakes_at_once(tmp_path):
    picks = [0, 3, 14, 21, 32, 39, 41]
    edits = [ONE_MISTAKE[k][0] for k in picks]
    places = {problem.place for problem in problems_of(tmp_path, changed(*edits))}
    assert {ONE_MISTAKE[k][1] for k in picks} <= places


def test_one_bad_key_does_not_hide_another_fault_of_its_table(tmp_path):
    text = changed((RING, "inner_diameter_mm = 2.0\nhue = 3"), ('cover = "opaque"', 'cover = "x"'),
                   ("lab = [95.0,", "lab = [195.0,"))  # fmt: skip
    places = [problem.place for problem in problems_of(tmp_path, text)]
    assert places == ["inks.white.cover", "inks.white.lab[1]", "marks[1].hue",
                      "marks[1].inner_diameter_mm"]  # fmt: skip


def test_one_ink_twice_in_one_place(tmp_path):
    again = '[[marks]]\nink = "cyan"\nshape = "cross"\nsize_mm = 1\nstroke_mm = 0.2\n'
    text = example_text().replace("# The largest", again + "at_mm = [0.0, 1.5]\n# The largest")
    (problem,) = problems_of(tmp_path, text)
    assert problem.place == "marks[6]"
    assert "marks[2] in this mark set, in the same place" in problem.what


def test_the_approved_zero_wants_every_marks_approved_place(tmp_path):
    problems = problems_of(tmp_path, changed(('zero = "design"', 'zero = "approved"')))
    # All but the reference, marks[5].
    assert [p.place for p in problems] == [f"marks[{k}].approved_mm" for k in (1, 2, 3, 4)]


def test_a_bad_station_raises_no_false_alarm_about_its_ink(tmp_path):
    problems = problems_of(tmp_path, changed(("path_m = 1.2", "path_m = nan")))
    assert [problem.place for problem in problems] == ["press.stations[6].path_m"]


def test_a_mark_that_is_lacking(tmp_path):
    text = example_text()
    start = text.index('[[marks]]\nink = "yellow"')
    end = text.index("[[marks]]", start + 1)
    (problem,) = problems_of(tmp_path, text[:start] + text[end:])
    assert (problem.place, problem.what) == ("inks.yellow", "has no mark")


def test_an_ink_that_no_station_prints(tmp_path):
    (problem,) = problems_of(tmp_path, example_text() + "[inks.gold]\nlab = [60, 10, 50]\n"
                             'cover = "invisible"\n')  # fmt: skip
    assert (problem.place, problem.what) == ("inks.gold", "is at no station")


def test_marks_with_and_without_edge_do_not_mix(tmp_path):
    extra = '[[marks]]\nink = "black"\nshape = "disc"\ndiameter_mm = 1\nat_mm = [9, 9]\n'
    text = example_text().replace("# The largest", extra + 'edge = "drive"\n# The largest')
    (problem,) = problems_of(tmp_path, text)
    assert problem.place == "marks[6].edge"
    problems = problems_of(tmp_path, example_text().replace("# The largest", extra + "#"))
    assert [p.place for p in problems] == ["marks[6]"]


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("format = 1\nname = Honey\n", "line 2, column 8"),
        ("format = 1\n[press\n", "line 2, column 7"),
        ("a = 1\na = 2\n", "line 2, column 6"),
        ('a = "never closed', "end of document"),
    ],
)
def test_a_syntax_error_names_its_line(tmp_path, text, place):
    (problem,) = problems_of(tmp_path, text)
    assert problem.place == place
    assert "is not TOML" in problem.what


def test_files_that_are_no_job(tmp_path):
    with pytest.raises(BadJob, match="no such file"):
        read_job(tmp_path / "nothing.toml")
    with pytest.raises(BadJob, match="is a folder"):
        read_job(tmp_path)
    (tmp_path / "job.toml").write_bytes(b"name = 1\n\xff\xfe")
    with pytest.raises(BadJob, match="line 2: is not UTF-8"):
        read_job(tmp_path / "job.toml")
    with pytest.raises(BadJob, match=r"did you mean 'job\.toml'"):
        read_job(tmp_path / "jop.toml")
    with pytest.raises(BadJob):
        read_job(tmp_path / "nul\0.toml")
    (tmp_path / "deep.toml").write_text("a = " + "[" * 100_000)
    with pytest.raises(BadJob):
        read_job(tmp_path / "deep.toml")
    (tmp_path / "long.toml").write_text("format = " + "9" * 10_000)
    with pytest.raises(BadJob):
        read_job(tmp_path / "long.toml")
    (tmp_path / "empty.toml").write_text("")
    with pytest.raises(BadJob, match="8 problems"):
        read_job(tmp_path / "empty.toml")
