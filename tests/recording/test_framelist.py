"""frames.csv: what it says is kept, what it does not say stays unknown."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regscan.errors import BadFrames
from regscan.recording.frame import FrameInfo
from regscan.recording.framelist import read_frame_list


def list_of(tmp_path, text):
    path = tmp_path / "frames.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    return read_frame_list(path)


def test_every_column(tmp_path):
    found = list_of(tmp_path, "frame,time_s,web_m,speed_m_min,camera,edge\n"
                    "b.png,0.5,1.25,150,end,operator\na.png,1,,,end,\n")  # fmt: skip
    assert found.infos == (
        FrameInfo("b.png", 0, 0.5, 1.25, 150.0, "end", "operator"),
        FrameInfo("a.png", 1, 1.0, None, None, "end", ""),
    )
    assert found.notes == ()


def test_names_alone_are_enough(tmp_path):
    found = list_of(tmp_path, "frame\nleft\\0001.png\nleft/0002.png\n")
    assert [info.name for info in found.infos] == ["left/0001.png", "left/0002.png"]
    assert found.infos[0].time_s is None


def test_a_column_that_is_not_known_is_noted(tmp_path):
    found = list_of(tmp_path, "frame,time\na.png,1\n")
    assert found.notes == ("columns of frames.csv that were not used: time",)
    assert found.infos[0].time_s is None


def test_two_cameras_have_clocks_of_their_own(tmp_path):
    rows = "a.png,1,one\nb.png,2,one\nc.png,1,two\nd.png,2,two\n"
    assert len(list_of(tmp_path, "frame,time_s,camera\n" + rows).infos) == 4


@pytest.mark.parametrize(
    ("rows", "place", "words"),
    [
        ("a.png,1,,,,\na.png,2,,,,", "line 3, frame", "already on line 2"),
        (",1,,,,", "line 2, frame", "names no file"),
        ("../a.png,1,,,,", "line 2, frame", "does not lie in this folder"),
        ("/a.png,1,,,,", "line 2, frame", "does not lie in this folder"),
        ("C:\\a.png,1,,,,", "line 2, frame", "does not lie in this folder"),
        (".,1,,,,", "line 2, frame", "does not lie in this folder"),
        ("a.png,soon,,,,", "line 2, time_s", "'soon' is not a number"),
        ("a.png,,nan,,,", "line 2, web_m", "'nan' is not a finite number"),
        ("a.png,,,-3,,", "line 2, speed_m_min", "no speed of a web"),
        ("a.png,,,,,operater", "line 2, edge", "did you mean 'operator'"),
        ("a.png,2,,,,\nb.png,1,,,,", "line 3, time_s", "1 lies before line 2 (2)"),
        ("a.png,,2,,,\nb.png,,1.5,,,", "line 3, web_m", "1.5 lies before line 2 (2)"),
        ("", "", "lists no frames"),
    ],
)
def test_one_mistake_is_named_by_its_line(tmp_path, rows, place, words):
    with pytest.raises(BadFrames) as caught:
        list_of(tmp_path, f"frame,time_s,web_m,speed_m_min,camera,edge\n{rows}\n")
    (problem,) = caught.value.problems
    assert problem.place == place
    assert words in str(problem)
    assert problem.cure


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(
        st.text(),
        st.binary(max_size=100),
        st.lists(st.text('ab.,/\\:-12" ', max_size=12)).map(
            lambda rows: "frame,time_s,edge\n" + "\n".join(rows)
        ),
    )
)
def test_any_text(tmp_path_factory, data):
    try:
        found = list_of(tmp_path_factory.mktemp("list"), data)
    except BadFrames as bad:
        problems = bad.problems
    else:
        assert found.infos
        return
    assert problems
