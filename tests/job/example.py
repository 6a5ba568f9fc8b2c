"""The job file of docs/job_file.md, for tests to read and to spoil."""

import re
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def example_text(page: str = "job_file.md") -> str:
    """The TOML shown on a page of the manual."""
    found = re.search(r"```toml\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.DOTALL)
    assert found, f"no example in {page}"
    return found[1]


def changed(*edits: tuple[str, str]) -> str:
    """The example with each (old, new) replaced once; an edit that does nothing is an error."""
    text = example_text()
    for old, new in edits:
        assert old in text, f"{old!r} is not in the example"
        text = text.replace(old, new, 1)
    return text
