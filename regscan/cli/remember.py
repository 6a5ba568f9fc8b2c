"""A run that was measured goes into a history."""

from pathlib import Path


def check_history(file: Path) -> None:
    """Say before any work what would keep a run from being remembered. Raises BadHistory."""
    from regscan.history.store import open_history

    with open_history(file, create=True):
        return


def remember(file: Path, folder: Path, note: str = "") -> str:
    """Add the run of a results folder; what to say of it. Raises BadHistory, BadTable."""
    from regscan.history.keep import keep_folder
    from regscan.history.store import open_history

    kept = keep_folder(folder, note)
    with open_history(file, create=True) as history:
        number, new = history.add(kept)
    if new:
        return f"History: run {number} in {file}"
    return f"History: {folder} is run {number} in {file} already"
