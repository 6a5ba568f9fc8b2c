"""regscan correct: the moves that bring every colour back, from a run's folder."""

from regscan.cli.options import AsJson, ResultsFolder


def correct(folder: ResultsFolder, json: AsJson = False) -> None:
    """Say which station to move, which way, by how much."""
    from regscan.cli.results import writing_to
    from regscan.cli.screen import print_json, show_corrections
    from regscan.run import load_run
    from regscan.verdict.correct import write_corrections

    run = load_run(folder / "run.json")
    path = folder / "corrections.csv"
    with writing_to(path):
        write_corrections(path, run.corrections)
    if json:
        print_json(folder, run, ("job", "corrections"))
    else:
        show_corrections(run)
