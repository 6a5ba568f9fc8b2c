"""The taught job file: what was learnt is in it, the rest and its comments stay."""

import pytest

from regscan.errors import BadJob, BadOutput
from regscan.instrument.taught import Taught, TaughtColour, TaughtMark
from regscan.instrument.teach import apply
from regscan.instrument.teach_file import write_taught_job
from regscan.job.job import Colour
from regscan.job.layout import Approved
from regscan.job.read import read_job
from tests.job.example import changed, example_text

PLACE = Approved(0.012, -0.02, 0.001, 0.0015)
OVER = frozenset({"magenta", "yellow"})


def colour(*camera):
    return TaughtColour(camera, 0.21, 1.5, 3, 400)


def learnt_of(job, overprints=True):
    inks = {ink.name: colour(0.1 * k, 0.2, 0.3) for k, ink in enumerate(job.inks) if ink.measurable}
    marks = [
        TaughtMark(m.ink, m.edge, None if m.ink == job.reference else PLACE, None, 3, 1.0)
        for m in job.marks
    ]
    return Taught(
        substrate=colour(0.7, 0.71, 0.72),
        inks=inks,
        overprints={OVER: colour(0.5, 0.1, 0.1)} if overprints else {},
        marks=tuple(marks),
        found="by the job's colours",
        frames=3,
    )


@pytest.fixture
def job_file(tmp_path):
    def write(text):
        path = tmp_path / "job.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def written(path, zero="approved", overprints=True, out=None):
    job = read_job(path)
    out = out or path.parent / "job-taught.toml"
    write_taught_job(job, learnt_of(job, overprints), zero, out)
    return out


def test_it_is_read_back_as_what_was_learnt(job_file):
    path = job_file(example_text())
    job = read_job(written(path))
    assert job.zero == "approved"
    assert job.substrate == Colour("taught", (0.7, 0.71, 0.72))
    assert job.ink("cyan").colour == Colour("taught", (0.1, 0.2, 0.3))
    assert job.ink("white").cover == "opaque"
    assert [over.inks for over in job.overprints] == [OVER]
    assert {m.ink: m.approved for m in job.marks if m.ink != "black"} == dict.fromkeys(
        ("white", "cyan", "magenta", "yellow"), PLACE
    )
    before = read_job(path)
    assert (job.press, job.tolerance, job.name) == (before.press, before.tolerance, before.name)


def test_comments_and_order_stay(job_file):
    text = example_text()
    new = written(job_file(text)).read_text(encoding="utf-8")
    for line in text.splitlines():
        comment = line[line.find("#") :] if "#" in line else ""
        of_a_colour = line.startswith(("lab", "inks"))
        if comment and not of_a_colour:
            assert comment in new, line
    heads = [line for line in text.splitlines() if line.startswith("[")]
    assert [line for line in new.splitlines() if line.startswith("[")] == heads


def test_teaching_twice_says_the_same(job_file, tmp_path):
    once = written(job_file(example_text()))
    again = written(once, out=tmp_path / "again.toml")
    assert again.read_text() == once.read_text()


@pytest.mark.parametrize("zero", ["design", "approved"])
def test_a_job_without_the_key_gets_it_only_where_it_is_needed(job_file, zero):
    text = changed(('zero = "design"                     # optional: what', "# what"))
    new = written(job_file(text), zero).read_text()
    assert ('zero = "approved"' in new) == (zero == "approved")
    assert new.find("zero = ") < new.find("[press]")


INLINE = """
[inks]
white = { lab = [95.0, 0.0, 5.0], cover = "opaque" }
cyan.lab = [55.0, -37.0, -50.0]
magenta = { srgb = "#ff00aa" }
yellow = { taught = true }
black = { lab = [16.0, 0.0, 0.0] }
varnish = { cover = "invisible" }

"""


def test_other_ways_to_write_the_tables(job_file):
    text = example_text()
    start, end = text.index("# One table per ink"), text.index("# The colours of inks lying")
    job = read_job(written(job_file(text[:start] + INLINE + text[end:])))
    assert job.ink("yellow").colour == Colour("taught", learnt_of(job).inks["yellow"].camera)
    assert job.ink("white").cover == "opaque"


def test_overprints_that_were_not_seen_go(job_file):
    job = read_job(written(job_file(example_text()), overprints=False))
    assert job.overprints == ()


def test_camera_files_are_found_from_another_folder(job_file, tmp_path):
    text = changed(('# file = "camera.toml"', 'file = "camera.toml"'))
    (tmp_path / "deeper").mkdir()
    out = written(job_file(text), out=tmp_path / "deeper" / "new.toml")
    assert read_job(out).press.cameras[0].file == "../camera.toml"


def test_a_place_that_cannot_be_written_leaves_nothing(job_file, tmp_path):
    path = job_file(example_text())
    (tmp_path / "plain").write_text("a file")
    with pytest.raises(BadOutput):
        written(path, out=tmp_path / "plain" / "job.toml")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["job.toml", "plain"]


def test_what_would_not_be_read_back_is_not_written(job_file, tmp_path):
    path = job_file(example_text())
    job = read_job(path)
    learnt = learnt_of(job)
    learnt.inks["cyan"] = colour(1.5, 0.2, 0.3)  # beyond full scale
    with pytest.raises(BadJob, match="must lie in 0 to 1"):
        write_taught_job(job, learnt, "design", tmp_path / "new.toml")
    assert not (tmp_path / "new.toml").exists()
    assert apply(job, learnt).zero == "design"
