"""ramp --against: an earlier run read back, checked, and compared with the new one."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from regscan.drift.comparison import Comparison
from regscan.errors import BadTable, Problem
from regscan.job.job import Job
from regscan.run import Run

if TYPE_CHECKING:
    from regscan.drift.accepting.compare import Ran


@dataclass(frozen=True)
class Earlier:
    """A run that was measured before, and where it was read from."""

    path: Path
    run: Run

    def compare(self, run: Run, folder: Path) -> Comparison:
        """What has changed since; written to comparison.json in the results folder."""
        from regscan.drift.accepting.compare import Ran, compare_runs
        from regscan.drift.accepting.table import write_comparison

        now = Ran(run.drift, run.job, made_at=run.inputs.made_at, cameras=run.cameras)
        comparison = compare_runs(now, _ran(self.path, self.run))
        write_comparison(folder / "comparison.json", comparison)
        return comparison


def read_earlier(path: Path, job: Job) -> Earlier:
    """The earlier run of a results folder (or its run.json), fit to compare with this job.

    Raises BadTable for what is no run, for still frames, and for a run of other stations.
    """
    from regscan.drift.accepting.refuse import why_not
    from regscan.run import load_run

    file = path / "run.json" if path.is_dir() else path
    run = load_run(file)
    if run.kind != "ramp":
        what = "is of still frames (measure), which show no change of speed"
        raise BadTable(file, Problem("kind", what, "compare with what regscan ramp wrote"))
    problems = why_not(job, _ran(file, run))
    if problems:
        raise BadTable(file, problems)
    return Earlier(file, run)


def _ran(path: Path, run: Run) -> "Ran":
    from regscan.drift.accepting.compare import Ran

    return Ran(run.drift, run.job, str(path), run.inputs.made_at, run.cameras)
