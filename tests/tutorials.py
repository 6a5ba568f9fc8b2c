"""Runs the tutorials: their commands, their Python, their pictures. Shared by test and generator.

A tutorial is a page of docs/ with blocks of `sh` (lines that begin with `regscan`) and
`python`. A block of `text` right after one holds what it prints; a comment before it, such as
`<!-- lines from "Moves for" to "Zero:" -->`, says which lines. A picture is followed by a
comment with where the commands put it: `<!-- from set_up/overlays/first-0001.jpg -->`.
"""

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from typer.testing import CliRunner

from regscan.cli.app import app

DOCS = Path(__file__).parent.parent / "docs"
OPERATOR, ENGINEER = DOCS / "tutorial_operator.md", DOCS / "tutorial_engineer.md"
WIDE_PX, QUALITY = 760, 82  # of a picture in a page
_BLOCK = re.compile(
    r"```(sh|python)\n(.*?)```\n"
    r"(?:\n(?:<!-- lines from \"(.*?)\" to \"(.*?)\" -->\n\n?)?```text\n(.*?)```\n)?",
    re.DOTALL,
)
_PICTURE = re.compile(r"!\[[^]]*\]\((images/[^)]+)\)\s*<!-- from (\S+) -->")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
# Next to zero the side of an offset is a matter of the last digit, so a side counts as a sign.
_SIDE = re.compile(r"(late|early|to drive|to oper\.) (?=\d)")
_SIGN = {"late": "+", "to drive": "+", "early": "-", "to oper.": "-"}
_NEXT = "-- next block --"


@dataclass(frozen=True)
class Step:
    """One block: its language, its lines, what the page says it prints (None: nothing shown).

    ends   what the first and the last line shown hold; "" for the very first and last.
    """

    language: str
    code: str
    ends: tuple[str, str]
    told: str | None
    told_at: tuple[int, int]

    def shown(self, printed: str) -> str:
        """The part of what was printed that belongs on the page."""
        rows = [line.rstrip() for line in printed.splitlines()]
        first, last = self.ends
        start = next((k for k, row in enumerate(rows) if first in row), len(rows))
        found = (k for k, row in enumerate(rows[start:], start) if last in row)
        end = next(found, None) if last else None
        if start == len(rows) or (last and end is None):
            return f"(no lines from {first!r} to {last!r})\n"
        rows = rows[start:] if end is None else rows[start : end + 1]
        return "\n".join(rows).strip("\n") + "\n"


def steps(page: str) -> list[Step]:
    """The blocks of a page, in order."""
    return [
        Step(found[1], found[2], (found[3] or "", found[4] or ""), found[5], found.span(5))
        for found in _BLOCK.finditer(page)
    ]


def run(blocks: list[Step], folder: Path) -> list[str]:
    """What each block prints when all are run in order, in a folder of their own."""
    printed = {k: _commands(b.code, folder) for k, b in enumerate(blocks) if b.language == "sh"}
    python = [k for k, block in enumerate(blocks) if block.language == "python"]
    if python:
        said = _session([blocks[k].code for k in python], folder)
        printed |= dict(zip(python, said, strict=True))
    return [printed[k] for k in range(len(blocks))]


def _commands(code: str, folder: Path) -> str:
    said, home = "", Path.cwd()
    os.chdir(folder)
    try:
        for line in code.splitlines():
            name, *words = shlex.split(line, comments=True)
            assert name == "regscan", f"a tutorial runs regscan only: {line}"
            done = CliRunner().invoke(app, words)
            # 1: out of tolerance, which a tutorial may well show.
            assert done.exit_code in (0, 1), f"{line}\n{done.output}"
            said += done.stdout
    finally:
        os.chdir(home)
    return said


def _session(blocks: list[str], folder: Path) -> list[str]:
    """One Python session, as somebody types it: no script file, one block after the other."""
    code = f"\nprint({_NEXT!r})\n".join(blocks)
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split(_NEXT + "\n")


def pictures(page: str) -> Iterator[tuple[Path, str]]:
    """(place in docs, where the commands put it) of every picture of a page."""
    for found in _PICTURE.finditer(page):
        yield DOCS / found[1], found[2]


def reduced(path: Path) -> np.ndarray:
    """A picture as small as a page needs it."""
    picture = cv2.imread(str(path))
    high = round(picture.shape[0] * WIDE_PX / picture.shape[1])
    return cv2.resize(picture, (WIDE_PX, high), interpolation=cv2.INTER_AREA)


def same_words(one: str, other: str) -> bool:
    """Whether two texts differ in spaces and in the last digits of their numbers only."""
    plain = (" ".join(text.split()) for text in (one, other))
    texts = [_SIDE.sub(lambda found: _SIGN[found[1]], text) for text in plain]
    words = [_NUMBER.sub("#", text) for text in texts]
    numbers = [[float(n) for n in _NUMBER.findall(text)] for text in texts]
    if words[0] != words[1] or len(numbers[0]) != len(numbers[1]):
        return False
    return all(abs(a - b) <= 0.004 + 0.03 * abs(a) for a, b in zip(*numbers, strict=True))
