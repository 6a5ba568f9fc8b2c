"""regscan gate: pass, fail or undecided, as words, gate.xml and an exit code."""

import typer

from regscan.cli.options import AsJson, ResultsFolder


def gate(folder: ResultsFolder, json: AsJson = False) -> None:
    """Pass or fail a run, also by its exit code.

    0 in register, 1 out of tolerance, 4 cannot be decided."""
    from regscan.cli.results import writing_to
    from regscan.cli.screen import print_json, show_verdict
    from regscan.run import load_run
    from regscan.verdict.junit import write_junit

    run = load_run(folder / "run.json")
    path = folder / "gate.xml"
    with writing_to(path):
        write_junit(path, run.verdict)
    if json:
        print_json(folder, run, ("verdict",))
    else:
        show_verdict(run)
    raise typer.Exit(run.verdict.exit_code)
