"""Whatever is in a camera file, a list of frames or a speed log: it is read, or refused with cures.

Random text seldom gets past the first check, so most cases are true files with parts
changed, by one of the mutations below or by values that are odd in their place.
"""

import math
import string

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regscan.camera.camera import Camera
from regscan.camera.read import read_camera
from regscan.errors import BadCamera, BadFrames, BadInput, BadSpeedLog
from regscan.recording.framelist import read_frame_list
from regscan.recording.speedlog import read_speed_log
from tests.job.example import example_text

relaxed = settings(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)

CAMERA = example_text("camera_file.md")
FRAMES = "frame,time_s,web_m,speed_m_min,camera,edge\n" + "".join(
    f"{k}.png,{k * 0.5},{k * 1.25},150,end,operator\n" for k in range(6)
)
LOG = "time_s,speed_m_min\n" + "".join(f"{k * 0.5},{150 - k}\n" for k in range(8))

odd_number = st.one_of(
    st.sampled_from(
        ["", " ", "nan", "-inf", "1e308", "-1e308", "1e-320", "0", "-0.0", "1_0", "٣", "0x1p3"]
    ),
    st.floats().map(repr),
    st.integers().map(repr),
)
odd_text = st.text(string.printable + "é\u0301\udcff\x85\u2028", max_size=30)


def refused(read, error, path, content):
    """What was read, or None after a refusal that names the file and every cure."""
    path.write_bytes(content.encode("utf-8", "surrogatepass"))
    try:
        return read(path)
    except error as bad:
        check_told(bad, path)
    return None


def check_told(bad: BadInput, path):
    assert bad.path == str(path)
    assert bad.problems
    for problem in bad.problems[:10]:
        assert problem.what
        assert problem.cure
        assert len(str(problem)) < 2000


@st.composite
def mutated(draw, text):
    """A text with some of its lines lost, doubled, swapped, cut or written over."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 4))):
        if not lines:
            break
        k, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        how = draw(st.sampled_from(["lose", "double", "swap", "cut", "over"]))
        if how == "lose":
            del lines[k]
        elif how == "double":
            lines.insert(k, lines[other])
        elif how == "swap":
            lines[k], lines[other] = lines[other], lines[k]
        elif how == "cut":
            lines[k] = lines[k][: draw(st.integers(0, len(lines[k])))]
        else:
            lines[k] = draw(odd_text)
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines)


@st.composite
def odd_camera(draw):
    lines = CAMERA.splitlines()
    with_value = [k for k, line in enumerate(lines) if " = " in line and line[0] != "#"]
    for k in draw(st.lists(st.sampled_from(with_value), min_size=1, max_size=3)):
        value = draw(st.one_of(odd_number, odd_text.map(repr), st.sampled_from(["[]", "{}"])))
        lines[k] = f"{lines[k].split(' = ')[0]} = {value}"
    return "\n".join(lines)


@st.composite
def odd_table(draw, text):
    """A table with some cells, or a column's name, changed."""
    rows = [line.split(",") for line in text.splitlines()]
    for _ in range(draw(st.integers(1, 5))):
        row = draw(st.integers(0, len(rows) - 1))
        column = draw(st.integers(0, len(rows[row]) - 1))
        rows[row][column] = draw(st.one_of(odd_number, odd_text))
    return "\n".join(",".join(row) for row in rows)


@relaxed
@given(st.one_of(mutated(CAMERA), odd_camera(), odd_text))
def test_camera_files(tmp_path, text):
    camera = refused(read_camera, BadCamera, tmp_path / "camera.toml", text)
    if camera is not None:
        assert isinstance(camera, Camera)
        assert camera.mm_per_px > 0
        assert all(math.isfinite(mm) for mm in camera.to_web(10.0, 20.0))


@relaxed
@given(st.one_of(mutated(FRAMES), odd_table(FRAMES), odd_text))
def test_lists_of_frames(tmp_path, text):
    found = refused(read_frame_list, BadFrames, tmp_path / "frames.csv", text)
    if found is not None:
        names = [info.name for info in found.infos]
        assert names
        assert len(set(names)) == len(names)
        for info in found.infos:
            values = [info.time_s, info.web_m, info.speed_m_min]
            assert all(math.isfinite(value) for value in values if value is not None)


@relaxed
@given(st.one_of(mutated(LOG), odd_table(LOG), odd_text), st.floats(allow_nan=False))
def test_speed_logs(tmp_path, text, time_s):
    log = refused(read_speed_log, BadSpeedLog, tmp_path / "speed_log.csv", text)
    if log is not None:
        assert bool((np.diff(log.time_s) > 0).all())
        speed = log.speed_at(time_s)
        assert math.isnan(speed) or 0.0 <= speed <= log.speed_m_min.max()
        web = log.web_at(np.array([time_s, log.time_s[0]]))
        assert web[1] == 0.0
        assert math.isnan(web[0]) or web[0] >= 0.0
