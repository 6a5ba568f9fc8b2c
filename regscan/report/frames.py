"""The marked-up frames that travel inside the page: the worst one, and the first contact sheet."""

from base64 import b64encode
from pathlib import Path

import numpy as np

from regscan.report.captions import caption
from regscan.report.overlays import FOLDER, file_name, worth_a_look
from regscan.run import Run


def frame_facts(
    folder: Path, run: Run, offsets: np.ndarray, marks: np.ndarray | None
) -> list[dict[str, str]]:
    """Pictures as data addresses with their words; empty where none was drawn."""
    drawn = folder / FOLDER
    found = []
    if marks is not None and len(offsets):
        first, *others = worth_a_look(offsets, run.job)
        why, name, camera = next((one for one in others if one[0] == "worst"), first)
        path = drawn / file_name(why, camera, name)
        if path.exists():
            seen, rows = (
                t[(t["frame"] == name) & (t["camera"] == camera)] for t in (marks, offsets)
            )
            words = caption(name, seen, rows, run.job)
            said = f"{words.where}. {words.state}. {words.weak}".strip(". ") + "."
            found.append(_picture(path, "The worst frame" if why == "worst" else "The frame", said))
    sheet = drawn / file_name("sheet-1")
    if sheet.exists():
        said = "Contact sheet of the run, worst frames first; each frame's state stands under it."
        found.append(_picture(sheet, "Worst frames first", said))
    return found


def _picture(path: Path, title: str, words: str) -> dict[str, str]:
    data = b64encode(path.read_bytes()).decode("ascii")
    return {"title": title, "words": words, "file": f"{FOLDER}/{path.name}",
            "address": f"data:image/jpeg;base64,{data}"}  # fmt: skip
