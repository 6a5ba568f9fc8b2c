"""The part of docs/how/causes.md that is written from the table of causes in the code."""

from pathlib import Path

from regscan.drift.causes.sign import Entry, Sign
from regscan.drift.causes.table import CAUSES

PAGE = Path(__file__).parents[1] / "docs" / "how" / "causes.md"
BEGIN = "<!-- written from regscan/drift/causes/table.py by tests/generate_docs.py -->\n"
END = "<!-- end of what is written -->\n"


def causes_page() -> str:
    """The page with its table as the code has it now."""
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    return before + BEGIN + causes_table() + END + after


def causes_table() -> str:
    """One section per cause."""
    return "\n" + "\n".join(_section(entry) for entry in CAUSES) + "\n"


def _section(entry: Entry) -> str:
    signs = [f"- {_sign(sign)}" for sign in sorted(entry.signs, key=lambda s: -s.weight)]
    come = [
        f"- comes with {_listed(c.kinds)} in {_listed(c.channels)}"
        + (" of the same station" if c.same_station else "")
        for c in entry.company
    ]
    lines = [
        f"### `{entry.name}`: {entry.title}\n",
        f"Because {entry.reason}.\n",
        *(signs or ["- found from levels or from two findings together, see above"]),
        *come,
        f"- **First check:** {entry.first_check}",
        f"- **To decide:** {entry.deciding}.\n",
    ]
    return "\n".join(lines)


def _sign(sign: Sign) -> str:
    when = f", if {sign.when}" if sign.when else ""
    weight = "" if sign.weight == 0.0 else f" (weight {sign.weight:g})"
    return (
        f"{_listed(sign.channels)}: {_listed(sign.kinds)}; pattern {_listed(sign.patterns)}"
        f"{when}{weight}"
    )


def _listed(words: tuple[str, ...]) -> str:
    return " or ".join(dict.fromkeys(words))
