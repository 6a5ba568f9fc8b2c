"""docs/how/press_model.md lists every fault with its parameters as the code has them.

python -m tests.simulator.press.test_manual      prints the rows to paste
"""

from dataclasses import MISSING, fields
from pathlib import Path

import pytest

from regscan.simulator.press.faults import FAULTS
from regscan.simulator.press.faults.parse import parse_fault

PAGE = Path(__file__).parents[3] / "docs" / "how" / "press_model.md"


def row(name):
    kind = FAULTS[name]
    shown = []
    for field in fields(kind):
        value = "" if field.default is MISSING else field.default
        value = {True: "yes", False: "no"}.get(value, value) if isinstance(value, bool) else value
        shown.append(f"`{field.name}={value}`")
    first = (kind.__doc__ or "").strip().split("\n")[0]
    return f"| `{name}` | {kind.usual} | {first} | {' '.join(shown)} |"


@pytest.mark.parametrize("name", FAULTS)
def test_the_page_has_the_fault_as_it_is(name):
    assert row(name) in PAGE.read_text(encoding="utf-8").splitlines()


def test_every_example_of_the_page_can_be_typed():
    text = PAGE.read_text(encoding="utf-8")
    examples = [part.split('"')[0] for part in text.split('--fault "')[1:]]
    assert len(examples) >= 2
    for example in examples:
        parse_fault(example)


if __name__ == "__main__":
    print("\n".join(row(name) for name in FAULTS))
