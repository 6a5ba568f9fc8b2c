"""A run of the bank as a folder: what `regscan ramp` reads, with the truth beside it."""

from dataclasses import asdict
from pathlib import Path

from regscan.simulator.bank.truth import BankRun
from regscan.simulator.job_text import job_toml
from regscan.simulator.press.faults.parse import in_words
from regscan.simulator.press.logbook import log_csv
from regscan.simulator.press.rows import rows_csv
from regscan.wholefile import write_whole


def write_bank_run(run: BankRun, folder: Path) -> None:
    """offsets.csv, job.toml, speed_log.csv (where there is one) and truth.txt.

    Raises BadOutput.
    """
    write_whole(folder / "offsets.csv", rows_csv(run.rows))
    write_whole(folder / "job.toml", job_toml(run.job))
    if run.speed_log is not None:
        write_whole(folder / "speed_log.csv", log_csv(run.speed_log))
    write_whole(folder / "truth.txt", truth_text(run))


def truth_text(run: BankRun) -> str:
    """What happened, to be read by people."""
    plan = run.truth.plan
    lines = [
        f"seed {plan.seed}: {plan.kind}, noise {plan.level}, {plan.limit or 'nothing wanting'}"
    ]
    for fault in run.truth.faults:
        lines.append(f"{in_words(fault.fault)}: {fault.pattern}, {1000 * fault.largest_mm:.0f} um")
        for term in fault.terms:
            values = {k: v for k, v in asdict(term).items() if k != "parameters"} | term.parameters
            lines.append("  " + ", ".join(f"{key} {value}" for key, value in values.items()))
    return "\n".join(lines) + "\n"
