import pytest

from regscan.errors import BadOutput, BadTable
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS
from regscan.offsets.table import write_table
from regscan.report.page import write_report
from regscan.run import save_run


@pytest.fixture
def folder(invented, tmp_path):
    run, offsets, marks = invented
    save_run(run, tmp_path / "run.json")
    write_table(tmp_path / "offsets.csv", offsets, OFFSET_COLUMNS)
    write_table(tmp_path / "marks.csv", marks, MARK_COLUMNS)
    return tmp_path


def test_report_is_made_from_the_files_of_a_folder(folder, invented):
    html = write_report(folder).read_text(encoding="utf-8")
    assert invented[0].verdict.sentence in html
    assert sorted(p.name for p in folder.iterdir()) == [
        "marks.csv", "offsets.csv", "report.html", "run.json"
    ]  # fmt: skip


def test_marks_are_optional(folder):
    (folder / "marks.csv").unlink()
    assert "Contrast" not in write_report(folder).read_text(encoding="utf-8")


def test_a_broken_table_leaves_the_old_report_alone(folder):
    (folder / "report.html").write_text("old")
    (folder / "offsets.csv").write_text("frame,ink\n")
    with pytest.raises(BadTable):
        write_report(folder)
    assert (folder / "report.html").read_text() == "old"


def test_a_place_that_cannot_be_written_is_told(folder):
    (folder / "report.html").mkdir()
    with pytest.raises(BadOutput):
        write_report(folder)
