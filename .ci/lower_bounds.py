"""Print the oldest versions that pyproject.toml allows, as pip constraints.

    python .ci/lower_bounds.py [--build | --extras]

Of the always installed dependencies; with --extras of all extras too; with --build of the
build tool instead. A bound
`>=X` becomes `==X`; a dependency without such a bound is an error, since nothing could be
tested of it.
"""

import re
import sys
import tomllib
from pathlib import Path

BOUND = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^\]]*\])?>=([A-Za-z0-9.]+)$")


def main() -> int:
    """Print the constraints, or say what has no lower bound."""
    path = Path(__file__).parents[1] / "pyproject.toml"
    file = tomllib.loads(path.read_text(encoding="utf-8"))
    wanted = list(file["project"]["dependencies"])
    if "--extras" in sys.argv:
        wanted += [
            one for many in file["project"]["optional-dependencies"].values() for one in many
        ]
    if "--build" in sys.argv:
        wanted = list(file["build-system"]["requires"])
    found: dict[str, str] = {}
    for text in wanted:
        bound = BOUND.match(text.replace(" ", ""))
        if bound is None:
            print(f"no lower bound: {text}", file=sys.stderr)
            return 1
        found[bound[1].lower()] = bound[2]
    for name, version in sorted(found.items()):
        print(f"{name}=={version}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
