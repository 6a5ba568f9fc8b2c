"""The certificate's page, and whether it belongs to the files it rests on."""

import hashlib
import json

import pytest
from drift.presses import JOB

from regscan.errors import BadTable
from regscan.verdict.certificate import (
    About,
    Certificate,
    certificate_document,
    certificate_page,
    check_page,
    read_certificate,
)
from regscan.verdict.digest import check, combined, digests
from regscan.verdict.gate import judge_run
from verdict.tracks import drift_of, track

DRIFT = drift_of(track(settled=0.05), track("yellow", settled=0.15))


@pytest.fixture
def made(tmp_path):
    """A certificate in `out` over two frames in `frames`."""
    out, frames = tmp_path / "out", tmp_path / "frames"
    out.mkdir()
    frames.mkdir()
    for name in ("run.json", "offsets.csv"):
        (out / name).write_text(name)
    for name in ("1.png", "2.png", "job.toml", "not a frame.txt"):
        (frames / name).write_text(name)
    names = ["1.png", "2.png", "1.png", "away.png"]
    files = digests(out, frames, names, frames / "job.toml")
    about = About(str(frames), 3, 2, "2026-01-02T03:04:05+00:00", "2026-01-03", "0.1.0")
    one = Certificate(JOB, judge_run(DRIFT, JOB), about, tuple(files))
    (out / "certificate.html").write_text(certificate_page(one))
    (out / "certificate.json").write_text(json.dumps(certificate_document(one)))
    return one, out, frames


def test_every_file_there_is_has_its_digest(made):
    one, _, _ = made
    assert [(f.where, f.path) for f in one.files] == [
        ("results", "run.json"), ("results", "offsets.csv"),
        ("frames", "1.png"), ("frames", "2.png"), ("frames", "job.toml"),
    ]  # fmt: skip
    assert one.files[0].sha256 == hashlib.sha256(b"run.json").hexdigest()
    assert combined(reversed(one.files)) == one.digest


def test_the_page_says_what_a_customer_needs(made):
    text = certificate_page(made[0])
    for said in (
        "Honey jar", "Press 2", "2026-01-02", "±0.100 mm", "house rule", "ISO 14253-1",
        "against black", "2 of 3 used", "±0.0020", "0.150 ±0.002 mm late", made[0].digest,
        "Press operator, date", "Quality, date", "Customer, date", "0.050 mm over",
        "regscan gate --verify",
    ):  # fmt: skip
        assert said in text, said
    assert "<script" not in text
    assert "http" not in text.replace("http://www.w3.org", "")


def test_names_are_escaped():
    from dataclasses import replace

    job = replace(JOB, name="<script>alert(1)</script>")
    about = About("f", 1, 1, "t", "t", "v")
    text = certificate_page(Certificate(job, judge_run(DRIFT, job), about, ()))
    assert "<script>" not in text
    assert "&lt;script&gt;" in text


def test_an_untouched_certificate_belongs(made):
    _, out, frames = made
    answer, files, place = read_certificate(out / "certificate.json")
    assert (answer, place) == ("out of tolerance", str(frames))
    check(out / "certificate.json", files, out, frames)
    check_page(out / "certificate.html", answer, files)


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("frames/1.png", "other", "1.png: has changed"),
        ("frames/2.png", None, "2.png: is no longer there"),
        ("out/offsets.csv", "other", "offsets.csv: has changed"),
        ("out/run.json", None, "run.json: is no longer there"),
    ],
)
def test_a_changed_or_missing_file_is_refused_by_name(made, tmp_path, name, change, words):
    _, out, frames = made
    if change is None:
        (tmp_path / name).unlink()
    else:
        (tmp_path / name).write_text(change)
    _, files, _ = read_certificate(out / "certificate.json")
    with pytest.raises(BadTable) as caught:
        check(out / "certificate.json", files, out, frames)
    assert words in str(caught.value)
    assert len(caught.value.problems) == 1


def test_a_certificate_that_was_touched_itself_is_refused(made):
    _, out, _ = made
    path, page = out / "certificate.json", out / "certificate.html"
    answer, files, _ = read_certificate(path)
    page.write_text(page.read_text().replace("Out of tolerance</h2>", "In register</h2>"))
    with pytest.raises(BadTable, match="answer"):
        check_page(page, answer, files)
    document = json.loads(path.read_text())
    document["files"][0]["sha256"] = "0" * 64
    path.write_text(json.dumps(document))
    with pytest.raises(BadTable, match="does not belong to the files listed"):
        read_certificate(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": 2}', '{"format": 1, "files": [3]}'])
def test_what_is_no_certificate_is_refused(tmp_path, text):
    (tmp_path / "certificate.json").write_text(text)
    with pytest.raises(BadTable):
        read_certificate(tmp_path / "certificate.json")


def test_a_video_or_table_is_one_file(tmp_path):
    (tmp_path / "run.avi").write_text("frames")
    found = digests(tmp_path, tmp_path / "run.avi", ["run 1"], tmp_path / "no.toml")
    assert [(f.where, f.path) for f in found] == [("elsewhere", str(tmp_path / "run.avi"))]
