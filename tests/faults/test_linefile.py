"""Whatever happens to the end of a journal, its whole lines are found and nothing else."""

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from regscan.errors import BadOutput
from regscan.journal.linefile import LineFile, good_bytes, good_lines

PAYLOADS = [b'{"frame":"1.png"}', b"{}", b'{"frame":"\\ud83d"}', b"x" * 300]


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("lines") / "journal.jsonl"
    lines = LineFile(path)
    for payload in PAYLOADS:
        lines.append(payload)
    lines.close()
    return path.read_bytes()


def ends_of_lines(content):
    return [k + 1 for k, byte in enumerate(content) if byte == ord("\n")]


def test_cut_off_anywhere_the_whole_lines_are_found_and_more_can_follow(written, tmp_path):
    path = tmp_path / "cut.jsonl"
    ends = ends_of_lines(written)
    for size in range(len(written) + 1):
        path.write_bytes(written[:size])
        whole = sum(end <= size for end in ends)
        assert list(good_lines(path)) == PAYLOADS[:whole]
        lines = LineFile(path)
        lines.append(b"next")
        lines.close()
        assert list(good_lines(path)) == [*PAYLOADS[:whole], b"next"]


def test_one_wrong_byte_ends_what_is_believed(written, tmp_path):
    path = tmp_path / "wrong.jsonl"
    ends = ends_of_lines(written)
    for place in range(len(written)):
        spoilt = bytearray(written)
        spoilt[place] ^= 0x04
        path.write_bytes(spoilt)
        whole = sum(end <= place for end in ends)
        assert list(good_lines(path)) == PAYLOADS[:whole], place


@given(st.binary(max_size=300))
def test_any_bytes(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "journal.jsonl"
    path.write_bytes(data)
    assert good_bytes(path) <= len(data)
    LineFile(path).close()
    assert path.read_bytes() == data[: good_bytes(path)]


def test_half_a_line_is_taken_back_when_the_disk_is_full(tmp_path, monkeypatch):
    path = tmp_path / "journal.jsonl"
    lines = LineFile(path)
    lines.append(b"first")
    write = os.write
    room = 7

    def full(file, data):
        nonlocal room
        if not room:
            raise OSError(28, "No space left on device")
        done = write(file, data[:room])
        room -= done
        return done

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(BadOutput, match=r"journal\.jsonl.*\n.*No space left.* -> make room"):
        lines.append(b"second, longer than seven")
    monkeypatch.setattr(os, "write", write)
    assert good_bytes(path) == path.stat().st_size
    lines.append(b"third")
    lines.close()
    assert list(good_lines(path)) == [b"first", b"third"]
