"""Named choices of the command line, light enough to be loaded for `regscan --help`."""

from typing import Literal

PlanChoice = Literal["reference", "fewest"]
"""Which plan goes into corrections.csv."""
