"""Write docs/licences.md: every package regscan brings along, and its licence.

    python tests/generate_licences.py [--check]

What is needed is read from pyproject.toml, what those need and under which licence from the
metadata of the packages installed here. Versions are left out: they change from day to day, and
licences seldom. With --check nothing is written: exit code 1 where the page says something else.
"""

import argparse
import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "licences.md"
UNKNOWN = "not stated"

# Licences by which a package may be brought along: they ask for no more than that their text and
# the authors' names stay with it, or (MPL) that changes to the package itself are published.
ACCEPTED = re.compile(
    r"MIT( License|-CMU)?|BSD( License)?|BSD-[23]-Clause|0BSD|ISC( License \(ISCL\))?|Zlib|CC0-1\.0"
    r"|Apache-2\.0|Apache Software License|PSF-2\.0|Python Software Foundation License|HPND"
    r"|MPL-2\.0|Mozilla Public License 2\.0 \(MPL 2\.0\)|The Unlicense \(Unlicense\)|Unlicense"
)


def accepted(licence: str) -> bool:
    """Whether all parts of a licence are accepted; of alternatives, one will do."""
    every = [re.split(r" AND |, ", one) for one in licence.split(" OR ")]
    return any(all(ACCEPTED.fullmatch(part.strip()) for part in parts) for parts in every)


@dataclass(frozen=True)
class Package:
    """One package: by whom it is needed, and its licence as its own metadata has it."""

    name: str
    needed_by: str
    licence: str


def wanted(extra: str) -> list[Requirement]:
    """The requirements of pyproject.toml; "" for those that are always installed."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    texts = project["optional-dependencies"][extra] if extra else project["dependencies"]
    return [Requirement(text) for text in texts]


def extras() -> list[str]:
    """All extras, that of the tests last."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return sorted(project["optional-dependencies"], key=lambda name: (name == "test", name))


def licence_of(package: Distribution) -> str:
    """The licence expression, else the classifiers, else the first line of the licence field,
    else what its licence file is headed."""
    about = package.metadata
    if expression := about.get("License-Expression"):
        return expression
    stated = [c.split(" :: ")[-1] for c in about.get_all("Classifier", []) if "License ::" in c]
    named = [one for one in stated if one != "OSI Approved"]
    if named:
        return ", ".join(named)
    return (about.get("License") or _headed(package)).strip().splitlines()[0]


def _headed(package: Distribution) -> str:
    """The licence whose heading a package's licence file carries."""
    for file in package.files or ():
        if ".dist-info" in str(file) and "LICENSE" in file.name.upper():
            text = " ".join(file.locate().read_text(encoding="utf-8", errors="replace").split())
            if text.startswith("Apache License Version 2.0"):
                return "Apache-2.0"
    return UNKNOWN


def walk(roots: list[Requirement], whole: bool) -> Iterator[Package]:
    """The roots and everything they need, each once.

    whole   raise PackageNotFoundError where one is not installed; else what is not is left out.
    """
    seen: set[tuple[str, str]] = set()
    queue = [(root, "regscan") for root in roots]
    while queue:
        requirement, needed_by = queue.pop(0)
        try:
            package = distribution(requirement.name)
        except PackageNotFoundError:
            if whole:
                raise
            continue
        name = canonicalize_name(package.metadata["Name"])
        for extra in ("", *sorted(requirement.extras)):
            if (name, extra) in seen:
                continue
            if not extra:
                yield Package(name, needed_by, licence_of(package))
            seen.add((name, extra))
            needs = [Requirement(text) for text in package.requires or ()]
            queue += [(need, name) for need in needs if _applies(need, extra)]


def _applies(need: Requirement, extra: str) -> bool:
    if need.marker is None:
        return not extra
    return need.marker.evaluate({"extra": extra}) and (
        not extra or not need.marker.evaluate({"extra": ""})
    )


def sections(*, whole: bool = True) -> dict[str, list[Package]]:
    """Packages by extra; one that an earlier section has is not told again. whole: see walk."""
    told: set[str] = set()
    found = {}
    for extra in ("", *extras()):
        mine = [one for one in walk(wanted(extra), whole) if one.name not in told]
        told |= {one.name for one in mine}
        found[extra] = sorted(mine, key=lambda one: one.name)
    return found


TITLES = {"": "Always installed", "test": "For the tests alone, never installed with regscan"}

HEAD = """# Licences of what regscan brings along

Written by `python tests/generate_licences.py` from the metadata of the installed packages: direct
dependencies (needed by regscan) and what those need in turn. regscan itself is under the MIT
licence. `tests/test_licences.py` refuses a package whose licence is not among those accepted.
"""


def page(found: dict[str, list[Package]]) -> str:
    """The page's text."""
    parts = [HEAD]
    for extra, packages in found.items():
        title = TITLES.get(extra, f"With the extra `{extra}`")
        rows = [f"| {p.name} | {p.needed_by} | {p.licence} |" for p in packages]
        parts.append(f"\n## {title}\n\n| package | needed by | licence |\n|---|---|---|\n")
        parts.append("\n".join(rows) + "\n")
    return "".join(parts) + TAIL


TAIL = """
## Inside the wheels

Some of these packages carry compiled libraries of others; their licences lie beside the installed
package (`*.dist-info`, files named LICENSE...). Those that ask for more than keeping a notice:

- opencv-python-headless carries FFmpeg (LGPL-2.1, as separate library files that may be
  exchanged), and OpenSSL for network streams, which regscan never opens: it reads files only;
- numpy, scipy and opencv-python-headless carry GCC's Fortran runtime (GPL-3.0 with the exception
  for runtime libraries);
- shapely, for tests alone, carries GEOS (LGPL-2.1).

regscan changes none of them and hands none of them out: its own wheel holds only its code, its
pages' templates and drawn sample images.
"""


def main() -> int:
    """Write or check the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true")
    options = parser.parse_args()
    try:
        text = page(sections())
    except PackageNotFoundError as missing:
        print(f"not installed here: {missing}; install regscan with every extra first")
        return 1
    if not options.check:
        PAGE.write_text(text, encoding="utf-8")
        return 0
    same = PAGE.exists() and PAGE.read_text(encoding="utf-8") == text
    print("docs/licences.md is fresh" if same else "docs/licences.md is stale: run this script")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
