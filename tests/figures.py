"""Every figure of the benches in one page: docs/performance.md.

    python tests/figures.py [--tiny] [BENCH ...]

Runs the named benches (all of them without a name) one after another and writes each one's
output into its section of the page, with date, machine and versions; the other sections stay
as they are. --tiny shows that it works and writes nothing.
"""

import ast
import os
import platform
import re
import subprocess
import sys
from datetime import date
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "performance.md"
BENCHES = {path.stem: path for path in sorted((ROOT / "tests" / "bench").glob("[a-z]*.py"))}
STATED = ("numpy", "scipy", "opencv-python-headless", "scikit-image")
HEAD = """# Figures

What the benches printed, each under its own date, machine and versions. Written by
`python tests/figures.py [BENCH ...]`; times are worth something only as ratios within one run.
A bench without a section here was not run to its end on this version; what was measured with it
before stands in the page of its subject in [docs/how](how/).
"""


def section(name: str, output: str, code: int) -> str:
    """One bench's part of the page."""
    says = (ast.get_docstring(ast.parse(BENCHES[name].read_text())) or "").splitlines()[0]
    verdict = "every limit kept" if code == 0 else "a limit missed, see below"
    return (
        f"## {name}\n\n{says}\n\n{date.today()}, {machine()}: {verdict}.\n\n"
        f"```text\n{output.strip()}\n```\n"
    )


def machine() -> str:
    """What the figures were made on."""
    packages = ", ".join(f"{name} {version(name)}" for name in STATED)
    python = f"Python {platform.python_version()}"
    return f"{os.cpu_count()} processors ({processor()}), {python}, {packages}"


def processor() -> str:
    """The processor's name where the system tells it, else its kind."""
    told = Path("/proc/cpuinfo")
    names = re.findall(r"model name\s*:\s*(.+)", told.read_text()) if told.exists() else []
    return names[0].strip() if names else platform.machine()


def merged(page: str, new: dict[str, str]) -> str:
    """The page with its sections replaced, in the order of their names."""
    parts = re.split(r"^(?=## )", page, flags=re.MULTILINE)[1:]
    sections = {part[3:].split("\n", 1)[0].strip(): part.strip() + "\n" for part in parts}
    sections |= new
    return "\n".join([HEAD, *(sections[name] for name in sorted(sections) if name in BENCHES)])


def main(asked: list[str]) -> int:
    tiny = "--tiny" in asked
    names = [name for name in asked if not name.startswith("-")] or list(BENCHES)
    if unknown := sorted(set(names) - set(BENCHES)):
        print(f"no such bench: {', '.join(unknown)}; there are {', '.join(BENCHES)}")
        return 2
    for name in names:
        print(f"== {name}", flush=True)
        command = [sys.executable, str(BENCHES[name]), *(["--tiny"] if tiny else [])]
        run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        print(run.stdout, run.stderr if run.returncode else "", sep="", flush=True)
        if not tiny:
            page = PAGE.read_text() if PAGE.exists() else ""
            PAGE.write_text(merged(page, {name: section(name, run.stdout, run.returncode)}))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
