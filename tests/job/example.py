"""The job file of docs/job_file.md, for tests to read and to spoil."""

import re
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def example_text(page: str = "job_file.md", number: int = 0) -> str:
    """The TOML shown on a page of the manual; the first, or that of a number from 0."""
    text = (DOCS / page).read_text(encoding="utf-8")
    found = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    assert len(found) > number, f"no example {number} in {page}"
    return str(found[number])


def changed(*edits: tuple[str, str]) -> str:
    """The example with each (old, new) replaced once; an edit that does nothing is an error."""
    text = example_text()
    for old, new in edits:
        assert old in text, f"{old!r} is not in the example"
        text = text.replace(old, new, 1)
    return text
