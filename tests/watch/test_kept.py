"""What is on disk after a crash, and what is made of it."""

import pytest

from regscan.watch.kept import EventLog, file_name, known_frames, open_job, repeated
from regscan.watch.watched import Event
from tests.watch.records import GIVEN, encoded_frame

ORIGIN = GIVEN.origin


def event(words):
    return Event(0, "2026-01-01T10:00:00+00:00", "trouble", words)


def test_events_keep_their_numbers(tmp_path):
    log = EventLog(tmp_path)
    assert [log.add(event(words)).number for words in "abc"] == [1, 2, 3]
    log.close()
    later = EventLog(tmp_path)
    assert later.add(event("d")).number == 4
    assert [one.words for one in later.after(2)] == ["c", "d"]


def test_a_torn_last_line_is_cut_off(tmp_path):
    kept = open_job(tmp_path, ORIGIN, False)
    for number in (1, 2):
        kept.append(encoded_frame(number))
    kept.close()
    path = kept.folder / "frames.jsonl"
    path.write_bytes(path.read_bytes()[:-7])
    later = open_job(tmp_path, ORIGIN, False)
    later.append(encoded_frame(3))
    assert [record.name for record in later.records()] == ["0001.png", "0003.png"]
    assert set(known_frames(tmp_path)) == {"0001.png", "0003.png"}


def test_another_job_file_gets_a_folder_of_its_own(tmp_path):
    one = open_job(tmp_path, ORIGIN, False)
    same = open_job(tmp_path, ORIGIN, False)
    other = open_job(tmp_path, {**ORIGIN, "job": "changed"}, False)
    assert one.folder == same.folder != other.folder
    assert (same.continued, other.continued) == (True, False)


@pytest.mark.parametrize("left", [None, b"", b"0123abcd {half a li"])
def test_a_folder_killed_before_its_first_line_is_taken(tmp_path, left):
    folder = tmp_path / "job-0001"
    folder.mkdir()
    if left is not None:
        (folder / "frames.jsonl").write_bytes(left)
    kept = open_job(tmp_path, ORIGIN, False)
    assert (kept.folder, kept.continued) == (folder, False)
    kept.append(encoded_frame(1))
    assert open_job(tmp_path, ORIGIN, False).continued


def test_a_name_used_again_is_told_apart(tmp_path):
    assert [repeated("f.png", k) for k in (0, 1, 2)] == ["f.png", "f.png (2)", "f.png (3)"]
    assert {file_name(repeated("f.png", k)) for k in (0, 1, 2)} == {"f.png"}
