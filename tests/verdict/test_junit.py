"""gate.xml: what a build server reads."""

from pathlib import Path
from xml.etree import ElementTree

import pytest
import xmlschema
from drift.presses import JOB

from regscan.errors import BadOutput
from regscan.verdict.gate import judge_run
from regscan.verdict.junit import write_junit
from verdict.tracks import drift_of, track

DRIFT = drift_of(
    track("white", settled=0.05),
    track("cyan", settled=0.15),
    track("magenta", settled=0.099, edge="drive", camera="end"),
    track("yellow", axis="lateral"),
)


@pytest.fixture
def root(tmp_path):
    write_junit(tmp_path / "gate.xml", judge_run(DRIFT, JOB))
    return ElementTree.parse(tmp_path / "gate.xml").getroot()


def test_the_counts_are_those_of_the_cases(root):
    assert root.tag == "testsuites"
    (suite,) = root
    for element in (root, suite):
        counts = {name: element.get(name) for name in ("tests", "failures", "errors")}
        assert counts == {"tests": "4", "failures": "1", "errors": "2"}
    assert len(suite.findall("testcase")) == 4
    assert len(suite.findall("testcase/failure")) == 1
    assert len(suite.findall("testcase/error")) == 2


def test_it_has_the_form_that_build_servers_accept(tmp_path):
    schema = xmlschema.XMLSchema(str(Path(__file__).with_name("junit.xsd")))
    path = tmp_path / "gate.xml"
    for drift in (DRIFT, drift_of(), drift_of(track(settled=0.01))):
        write_junit(path, judge_run(drift, JOB))
        schema.validate(str(path))
    path.write_text(path.read_text().replace("<testcase ", "<case ").replace("/testcase", "/case"))
    assert not schema.is_valid(str(path))


def test_each_station_and_axis_is_a_case_of_its_own_name(root):
    assert [case.get("name") for case in root.iter("testcase")] == [
        "station 1 white, circumferential",
        "station 2 cyan, circumferential",
        "station 3 magenta, circumferential, end, drive edge",
        "station 4 yellow, lateral",
    ]


def test_what_cannot_be_decided_does_not_slip_through_as_skipped(root):
    assert root.find(".//skipped") is None
    (error,) = root.findall(".//testcase[@name='station 4 yellow, lateral']/error")
    assert error.get("type") == "cannot be decided"
    assert "not found" in error.get("message")


def test_a_failure_says_by_how_much(root):
    (failure,) = root.iter("failure")
    assert "0.050 mm over the tolerance" in failure.get("message")
    assert "conformance_probability 0.000000" in failure.text


def test_the_verdict_sentence_and_rule_are_in_it(root):
    said = root.find("testsuite/system-out").text
    assert said.startswith("Out of tolerance: cyan")
    assert "ISO 14253-1" in said


def test_names_that_xml_cannot_carry(tmp_path):
    odd = track("cyan", settled=0.15, camera="<a & b>\x07\ufffe")
    write_junit(tmp_path / "gate.xml", judge_run(drift_of(odd), JOB))
    root = ElementTree.parse(tmp_path / "gate.xml").getroot()
    assert root.find(".//testcase").get("name") == "station 2 cyan, circumferential, <a & b>"


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "gate.xml").mkdir()
    with pytest.raises(BadOutput):
        write_junit(tmp_path / "gate.xml", judge_run(DRIFT, JOB))
