"""run.json: what is saved comes back the same, and what is no run is refused."""

import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.drift.drift import Drift, Stretch, Track
from regscan.errors import BadOutput, BadTable
from regscan.job.job import Colour, Ink, Job, Press, Station, Tolerance
from regscan.job.layout import MarkDesign, Triangle
from regscan.run import Inputs, Run, SkippedFrame, load_run, save_run
from regscan.verdict.verdict import Verdict

# Runs hold None for what is not known, so their numbers are finite.
st.register_type_strategy(float, st.floats(allow_nan=False, allow_infinity=False))


@st.composite
def runs(draw):
    """Any run whatever, from the records' own type hints."""
    return replace(draw(st.from_type(Run)), format=1)


@settings(max_examples=25, suppress_health_check=list(HealthCheck), deadline=None)
@given(run=runs())
def test_what_is_saved_comes_back_the_same(tmp_path_factory, run):
    path = tmp_path_factory.mktemp("run") / "run.json"
    save_run(run, path)
    assert load_run(path) == run


PAPER = Colour("lab", (95.0, 0.0, -2.0))
BLACK = Ink("black", Colour("lab", (16.0, 0.0, 0.0)))
PRESS = Press("Press 2", 304.8, 330.0, (Station(1, "black", 0.0),))
MARK = MarkDesign("black", Triangle(0.8), 0.0, 0.0)
JOB = Job("Honey jar", PRESS, (BLACK,), PAPER, "black", (MARK,), Tolerance(0.1, 0.1))
RUN = Run(
    kind="ramp",
    job=JOB,
    cameras=(Camera(0.012, 0.012),),
    inputs=Inputs("frames", 2, 1, (SkippedFrame("2.png", "torn"),), "", (), "0", ""),
    drift=Drift((), (), (), None, None, ()),
    corrections=(),
    verdict=Verdict("cannot be decided", "", (), ""),
)


@pytest.fixture
def saved(tmp_path):
    """A small run.json."""
    save_run(RUN, tmp_path / "run.json")
    return tmp_path / "run.json"


def test_a_run_from_before_stretches_carried_their_doubt_is_read(tmp_path):
    stretch = Stretch("1", "2", 2, 0.0, 1.0, 1.0, 0.0, 1.0, 60.0, 60.0, 0.2, True, 0.003)
    seen = ("cyan", "", "", "lateral", 0.1, 9, 0, 0, None, (), (), ())
    track = Track(1, *seen, (stretch,), 1.0, 2, True, ())
    path = tmp_path / "run.json"
    save_run(replace(RUN, drift=replace(RUN.drift, tracks=(track,))), path)
    document = json.loads(path.read_text())
    assert document["drift"]["tracks"][0]["stretches"][0].pop("worst_sd_mm") == 0.003
    path.write_text(json.dumps(document))
    (read,) = load_run(path).drift.tracks[0].stretches
    assert read == replace(stretch, worst_sd_mm=None)


def test_a_shape_stays_the_shape_it_was(saved):
    # A square has the same measures as a triangle, so the numbers alone cannot tell.
    assert load_run(saved).job.marks[0].shape == Triangle(0.8)


def refused(path, document):
    path.write_text(document if isinstance(document, str) else json.dumps(document))
    with pytest.raises(BadTable) as caught:
        load_run(path)
    assert all(problem.cure for problem in caught.value.problems)
    return str(caught.value)


@pytest.mark.parametrize("number", [None, 0, 2, True, "1"])
def test_another_format_is_refused(saved, number):
    document = json.loads(saved.read_text())
    document["format"] = number
    assert "this regscan reads format 1" in refused(saved, document)


def test_every_broken_field_is_named(saved):
    document = json.loads(saved.read_text())
    document["verdict"]["answer"] = "splendid"
    document["drift"]["metres_total"] = "many"
    said = refused(saved, document)
    assert "verdict.answer" in said
    assert "drift.metres_total" in said


def test_a_mark_without_its_shape_is_refused(saved):
    document = json.loads(saved.read_text())
    del document["job"]["marks"][0]["shape"]["kind"]
    assert "job.marks" in refused(saved, document)


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"format": NaN}', "[" * 100_000, '"\\ud800"'])
def test_what_is_no_run_is_refused(tmp_path, text):
    assert "JSON" in refused(tmp_path / "run.json", text)


def test_a_run_that_is_not_there(tmp_path):
    with pytest.raises(BadTable, match="cannot be read"):
        load_run(tmp_path / "run.json")


def test_a_place_that_cannot_be_written(saved, tmp_path):
    run = load_run(saved)
    with pytest.raises(BadOutput):
        save_run(run, saved / "run.json")
    assert [p.name for p in tmp_path.iterdir()] == ["run.json"]


def test_a_run_written_before_the_edges_were_told_is_still_read(saved):
    document = json.loads(saved.read_text())
    for key in ("edges", "round_repeat"):
        del document["drift"][key]
    del document["job"]["press"]["edge_spacing_mm"]
    saved.write_text(json.dumps(document))
    assert load_run(saved) == RUN
