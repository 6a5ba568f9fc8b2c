"""A failing job file must answer at once, so it loads no image and no number library."""

import subprocess
import sys

SCRIPT = """
import sys
from pathlib import Path
from regscan.errors import BadJob
from regscan.job.read import read_job
try:
    read_job(Path(sys.argv[1]))
except BadJob:
    heavy = {"numpy", "cv2", "scipy", "skimage", "PIL", "rich", "jinja2"} & set(sys.modules)
    print(sorted(heavy))
"""


def test_a_bad_job_loads_no_heavy_library(tmp_path):
    (tmp_path / "job.toml").write_text("format = 1\n[press]\nname = 3\n")
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(tmp_path / "job.toml")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout == "[]\n"
