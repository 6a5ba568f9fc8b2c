"""study.csv and trees of folders: read as written, every mistake told at once."""

import pytest

from regscan.errors import BadStudy
from regscan.instrument.gauge.study import Entry
from regscan.instrument.gauge.study_file import read_study, study_of_folders


def study_of(tmp_path, text):
    path = tmp_path / "study.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_study(path)


def test_columns_by_either_name_in_any_order(tmp_path):
    trade = study_of(tmp_path, "frame,position,setup,trial\na.png,1,A,1\nb.png,1,A,2\n")
    assert trade == (Entry("a.png", "1", "A", 1), Entry("b.png", "1", "A", 2))
    manual = "Trial, Operator ,part,frame\r\n1,A,1,a.png\r\n\r\n2,A,1,b.png\r\n"
    assert study_of(tmp_path, b"\xef\xbb\xbf" + manual.encode()) == trade


def test_setup_and_trial_may_be_left_out(tmp_path):
    assert study_of(tmp_path, "frame,position\na.png,1\nb.png,2\n") == (
        Entry("a.png", "1"),
        Entry("b.png", "2"),
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("frame,position\n", "no rows"),
        ("frame,setup\na.png,A\n", "column position is missing"),
        ("frame,position,positon\na.png,1,1\n", "is not known -> did you mean 'position'?"),
        ("frame,part,position\na.png,1,1\n", "is there twice"),
        ("frame,position\na.png\n", "line 2: has 1 fields"),
        ("frame,position\na.png,\n", "line 2: position is empty"),
        ("frame,position,trial\na.png,1,first\n", "'first' is no number of a trial"),
        ("frame,position,trial\na.png,1,0\n", "no number of a trial"),
        ("frame,position\na.png,1\na.png,2\n", "'a.png' is there 2 times"),
        (b"frame,position\n\xff,1\n", "is not UTF-8"),
        ('frame,position\n"a.png,1\n', "is not CSV"),
    ],
)
def test_a_mistake_is_named_with_its_cure(tmp_path, text, words):
    with pytest.raises(BadStudy) as refused:
        study_of(tmp_path, text)
    assert words in str(refused.value)
    assert all(problem.cure for problem in refused.value.problems)


def test_a_list_that_is_not_there(tmp_path):
    with pytest.raises(BadStudy, match="cannot be read"):
        read_study(tmp_path / "study.csv")


def test_a_tree_of_folders(tmp_path):
    for name in ("2/B/1.png", "2/A/10.png", "2/A/9.png", "10/A/1.png", "notes/readme.txt"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    assert study_of_folders(tmp_path) == (
        Entry("2/A/9.png", "2", "A"),
        Entry("2/A/10.png", "2", "A"),
        Entry("2/B/1.png", "2", "B"),
        Entry("10/A/1.png", "10", "A"),
    )


def test_a_flat_folder_is_no_study(tmp_path):
    (tmp_path / "1.png").write_bytes(b"")
    assert study_of_folders(tmp_path) == ()
