"""A job written as text is the job that is read from it."""

from dataclasses import replace

import numpy as np
import pytest

from regscan.job.read import read_job
from regscan.simulator.bank.jobs import invented_job
from regscan.simulator.job_text import job_toml
from tests.simulator.drawn_job import job_of


@pytest.mark.parametrize("edges", [False, True])
def test_an_invented_job_is_read_back(edges, tmp_path):
    job = invented_job(8, edges, np.random.default_rng(4))
    path = tmp_path / "job.toml"
    path.write_text(job_toml(job), encoding="utf-8")
    assert replace(read_job(path), path="") == job


def test_every_shape_is_read_back(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(job_toml(job_of()), encoding="utf-8")
    assert read_job(path).marks == job_of().marks
