"""Whatever is in the file: a job or BadJob, never another error."""

import string

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from regscan.errors import BadJob
from regscan.job.job import Job
from regscan.job.read import read_job
from tests.job.example import example_text

EXAMPLE = example_text()
LINES = EXAMPLE.splitlines()

relaxed = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
scalar = st.one_of(
    st.sampled_from(["nan", "-inf", "true", "1979-05-27", "0x10", "1e308", "[]", "{}", "[[1]]"]),
    st.floats().map(repr),
    st.integers().map(repr),
    st.text(string.ascii_letters + " #\\", max_size=70).map(lambda text: f"'{text}'"),
)


def job_or_refusal(tmp_path, data):
    path = tmp_path / "job.toml"
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"))
    try:
        job = read_job(path)
    except BadJob as bad:
        problems = bad.problems
    else:
        assert isinstance(job, Job)
        assert job.marks_seen()
        assert job.station_of(job.reference)
        return
    assert problems
    assert all(problem.what and str(problem) for problem in problems)


@relaxed
@given(st.one_of(st.text(), st.binary(max_size=200)))
def test_any_text(tmp_path, data):
    job_or_refusal(tmp_path, data)


@relaxed
@given(st.data())
def test_any_value_in_place_of_any_other(tmp_path, data):
    lines = list(LINES)
    with_value = [k for k, line in enumerate(lines) if " = " in line and line[0] != "#"]
    for k in data.draw(st.lists(st.sampled_from(with_value), min_size=1, max_size=4)):
        lines[k] = f"{lines[k].split(' = ')[0]} = {data.draw(scalar)}"
    job_or_refusal(tmp_path, "\n".join(lines))


@relaxed
@given(st.data())
def test_lines_lost_doubled_or_swapped(tmp_path, data):
    lines = list(LINES)
    where = st.integers(0, len(LINES) - 1)
    for _ in range(data.draw(st.integers(1, 4))):
        k, other = data.draw(where) % len(lines), data.draw(where) % len(lines)
        how = data.draw(st.sampled_from(["lose", "double", "swap"]))
        if how == "lose":
            del lines[k]
        elif how == "double":
            lines.insert(k, lines[other])
        else:
            lines[k], lines[other] = lines[other], lines[k]
    job_or_refusal(tmp_path, "\n".join(lines))


tables = st.recursive(
    st.one_of(st.integers(-3, 9), st.floats(), st.booleans(), st.text(max_size=5)),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)


@relaxed
@given(st.data())
def test_any_tree_under_the_known_keys(tmp_path, data):
    known = ["format", "name", "reference", "press", "substrate", "inks", "marks", "tolerance"]
    lines = []
    for key in data.draw(st.lists(st.sampled_from(known), unique=True)):
        lines.append(f"{key} = {toml_of(data.draw(tables))}")
    job_or_refusal(tmp_path, "\n".join(lines))


def toml_of(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(toml_of(one) for one in value) + "]"
    if isinstance(value, str):
        return '"' + "".join(c for c in value if c.isalnum()) + '"'
    return repr(value)
