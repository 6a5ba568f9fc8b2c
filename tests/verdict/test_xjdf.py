"""register.xjdf: well formed, with the attributes and the sign it states."""

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
import xmlschema
from drift.presses import JOB

from regscan.errors import BadOutput
from regscan.verdict.gate import judge_run
from regscan.verdict.xjdf import NAMESPACE, token, write_xjdf
from verdict.tracks import drift_of, track

N = f"{{{NAMESPACE}}}"
DRIFT = drift_of(
    track(settled=0.127), track(axis="lateral", settled=-0.0254),
    track("yellow", settled=0.01), track("yellow", axis="lateral", settled=0.0),
    track("white"), track("white", axis="lateral"),
)  # fmt: skip


@pytest.fixture
def root(tmp_path):
    write_xjdf(tmp_path / "r.xjdf", judge_run(DRIFT, JOB), JOB)
    return ElementTree.parse(tmp_path / "r.xjdf").getroot()


def test_required_attributes_are_there(root):
    assert root.tag == f"{N}XJDF"
    assert (root.get("JobID"), root.get("DescriptiveName")) == ("Honey_jar", "Honey jar")
    assert root.get("Types") == "QualityControl"
    (results,) = root.findall(f"{N}ResourceSet")
    assert results.get("Name") == "QualityControlResult"
    assert results.get("Usage") == "Output"
    ids = [one.get("ID") for one in results]
    assert len(set(ids)) == len(ids) == 3
    assert {part.get("Separation") for part in root.iter(f"{N}Part")} == {"cyan", "yellow", "white"}


def test_it_keeps_to_the_published_schemas_order_and_types(tmp_path):
    schema = xmlschema.XMLSchema(str(Path(__file__).with_name("xjdf.xsd")))
    path = tmp_path / "r.xjdf"
    two_eyes = drift_of(track(settled=0.1, edge="drive", camera="end"))
    for drift in (DRIFT, two_eyes, drift_of()):
        for name in ("Honey jar, six colours", "Jar <2> & \x07", "Überdruck 5·6", ""):
            write_xjdf(path, judge_run(drift, JOB), replace(JOB, name=name))
            schema.validate(str(path))
    assert not schema.is_valid(path.read_text().replace('JobID="_"', 'JobID="a b"'))


@pytest.mark.parametrize(
    ("name", "expected"),
    [("cyan", "cyan"), ("dark blue, 2nd", "dark_blue__2nd"), ("Grün", "Grün"), ("", "_")],
)
def test_names_become_tokens(name, expected):
    assert token(name) == expected


def test_offsets_are_points_lateral_first(root):
    # 25.4 mm are 72 points: 0.127 mm late is 0.36, 0.0254 mm to the operator side is -0.072.
    first, *rest = root.iter(f"{N}RegistrationQuality")
    assert first.get("Reference") == "black"
    assert [float(v) for v in first.get("Offset").split()] == pytest.approx([-0.072, 0.36])
    assert len(rest) == 1  # white was not seen: no offset is claimed


def test_passed_and_failed_are_frames(root):
    names = ("Measurements", "Passed", "Failed")
    found = [[e.get(n) for n in names] for e in root.iter(f"{N}QualityControlResult")]
    # Out, in, not decided.
    assert found == [["400", "0", "400"], ["400", "400", "0"], ["0", "0", "0"]]


def test_the_sign_is_stated(root):
    said = root.find(f"{N}Comment").text
    assert "late, toward the unwind" in said
    assert "toward the drive side" in said
    assert "from the design" in said


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "r.xjdf").mkdir()
    with pytest.raises(BadOutput):
        write_xjdf(tmp_path / "r.xjdf", judge_run(DRIFT, JOB), JOB)
