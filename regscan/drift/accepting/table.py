"""comparison.json: a comparison as it is kept."""

import json
from dataclasses import asdict
from pathlib import Path

from regscan.drift.comparison import Comparison
from regscan.wholefile import write_whole


def write_comparison(path: Path, comparison: Comparison) -> None:
    """Write it as standard JSON, whole or not at all. Raises BadOutput."""
    text = json.dumps(asdict(comparison), indent=1, ensure_ascii=False, allow_nan=False)
    write_whole(path, text + "\n")
