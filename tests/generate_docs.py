"""Writes the parts of docs/ that are told by the code itself.

    python tests/generate_docs.py

tests/test_docs.py fails when what stands in docs/ is not what this writes.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import typer.main
from causes_table import causes_page

import regscan
from regscan import errors
from regscan.cli.app import app
from regscan.instrument.gauge.columns import GAUGE_COLUMNS
from regscan.marks.flags import SENTENCES, MarkFlag
from regscan.marks.limits import meanings
from regscan.offsets.columns import MARK_COLUMNS, OFFSET_COLUMNS, Column
from regscan.verdict.verdict import Correction

PACKAGE = Path(regscan.__file__).parent
DOCS = Path(__file__).parent.parent / "docs"
HEAD = "<!-- Written by `python tests/generate_docs.py`; edit the code, not this page. -->\n"
KINDS = {"f8": "number", "i4": "whole number"}

COMMANDS_HEAD = """# Commands

`regscan COMMAND --help` says the same in the terminal.

Results go to `regscan-out/NAME` in the current folder, NAME being that of the folder of
frames (or of the single picture or table), unless `--out` names another. A new run takes
the place of an older one in the same folder; other files there are left alone. Results
appear together and whole, or not at all.

A folder of frames may bring its own `job.toml`, `camera.toml`, `frames.csv` and
`speed_log.csv`; an option goes before the folder's own file.

People's text is printed on standard output, errors and progress on standard error. Progress
is shown in a terminal only; the environment variable `NO_COLOR` turns colour off.

With `--json` standard output holds one JSON document and nothing else: what `run.json` holds
(`correct` only its `corrections`, `gate` only its `verdict`), with `folder`, where the files
lie, and `not_measurable`, the inks that leave no visible mark.

## Exit codes

| code | meaning |
|---|---|
| 0 | done; for `gate`: in register |
| 1 | `gate`: out of tolerance |
| 2 | wrong usage of the command line |
| 3 | bad input: one message names the file, every problem in it, and each cure |
| 4 | `gate`: cannot be decided (too few good frames, or too much doubt for the tolerance) |
| 130 | stopped with Ctrl-C; what was measured is kept for `--resume` ([faults](how/faults.md)) |

## Files in a run's folder

| file | what it holds | written by |
|---|---|---|
| `offsets.csv` | one row per frame, mark set and colour ([columns](run_table.md)) | measure, ramp |
| `marks.csv` | where each mark was found in its frame, and how it looked | measure, ramp |
| `offsets.parquet`, `marks.parquet` | the same tables as Parquet | measure, ramp with `--parquet` |
| `run.json` | what was measured and decided | measure, ramp |
| `corrections.csv` | the moves, per station and axis | measure, ramp, correct |
| `cuts.csv` | web outside tolerance, to cut out ([columns](how/cost.md)) | ramp |
| `comparison.json` | what has changed since an earlier run | ramp with `--against` |
| `plan.json` | both plans of moves with order, waits and costs; what logged moves did | correct |
| `report.html` | everything to look at, in one file | measure, ramp, report |
| `gate.xml` | one test case per station and axis, JUnit | gate |
| `certificate.html`, `.pdf`, `.json` | one page to sign, its digests | gate `--certificate` |
| `register.xjdf` | the result as CIP4 XJDF | gate `--xjdf` |
| `overlays/` | marked-up frames, worst first | measure, ramp `--overlays`, report `--frames` |

`regscan gauge` writes `gauge.csv` ([columns](run_table.md)), `gauge.svg` and the `offsets.csv`
they rest on; `regscan teach` writes one job file; `regscan calibrate` writes `camera.toml`,
`residuals.csv` and `residuals.svg`, or with `--direction` one camera file.
"""

TABLES_HEAD = """# Columns of the result tables

CSV in UTF-8 with one header line. Where a value is not known its field is empty, never
zero. Signs as in [conventions.md](conventions.md).

With `--parquet` the first two are written as Apache Parquet too (`pip install
"regscan-press[parquet]"` brings pyarrow): `offsets.parquet` and `marks.parquet`, the same
columns in the same order, numbers with every digit instead of rounded, unknown as null. Each
field carries its `meaning`, `unit` and `sign`, and the file's own metadata the same for all
columns, as JSON under the key `regscan`. `ramp --offsets` reads either kind. Read back in the
tests by pandas, polars and DuckDB:

```sql
select station, ink, avg(circumferential_mm), stddev(circumferential_mm)
from 'results/*/offsets.parquet' where status = 'ok' group by station, ink;
select decode(value) from parquet_kv_metadata('offsets.parquet') where key = 'regscan';
```
"""

CORRECTION_COLUMNS = {
    "station": ("whole number", "print station, counted from the unwind"),
    "ink": ("text", "colour by its name in the job"),
    "axis": ("text", "circumferential or lateral"),
    "move_mm": ("number", "minus the settled offset in whole steps; 0 is: leave it alone"),
    "steps": ("whole number", "steps of the station's actuator, signed like move_mm"),
    "words": ("text", "the move as it is said at the press, or why there is none"),
    "remaining_mm": ("number", "offset expected after the move"),
    "sd_mm": ("number", "one standard deviation of remaining_mm"),
}

FLAGS_HEAD = """# Flags: why a mark is trusted less

`flags` in `marks.csv` is the sum of these numbers; 0 is a clean mark. The `note` of a
doubtful or missing colour in `offsets.csv` gives the same reasons in words.
"""

LIMITS_HEAD = """
## Where doubt begins

The print-quality numbers themselves are columns of `marks.csv`
([run_table.md](run_table.md)). These thresholds were chosen on drawn frames so that no mark
wrong by more than 50 um passes for ok; none of them comes from a standard.
"""

MESSAGES_HEAD = """# Messages

A message about bad input names the file, then every problem found in it: where, what, and
after the arrow what to do about it.

    job.toml: 2 problems
      - reference: 'blak' is not among the inks -> did you mean 'black'?
      - press.repeat_mm: is -1, must be over 0 -> for example: repeat_mm = 304.8

All leave with exit code 3 and without results; what a run had measured by then is kept, and
the message says how to go on ([faults](how/faults.md)).
"""


def commands_page() -> str:
    """Every command with its arguments and options."""
    parts = [HEAD, COMMANDS_HEAD]
    for name, command in commands_of(typer.main.get_command(app)):
        parts.append(f"\n## {name}\n\n{_unwrapped(command.help or '')}\n")
        shown = [param for param in command.params if param.name != "help"]
        if shown:
            parts.append("\n| argument or option | meaning |\n|---|---|\n")
            parts += [f"| {_call(param)} | {_meaning(param)} |\n" for param in shown]
    return "".join(parts)


def commands_of(group: Any, before: str = "regscan") -> Iterator[tuple[str, Any]]:
    """Every command by its full name, those of a group after the group."""
    for name, command in group.commands.items():
        yield f"{before} {name}", command
        if hasattr(command, "commands"):
            yield from commands_of(command, f"{before} {name}")


def _call(param: Any) -> str:
    if param.param_type_name == "argument":
        return f"`{param.metavar or param.name.upper()}`"
    names = " ".join(f"`{opt}`" for opt in (*param.opts, *param.secondary_opts))
    kind = "" if param.is_flag else f" {param.metavar or param.name.upper()}"
    return names + kind


def _meaning(param: Any) -> str:
    default = param.default
    known = default is not None and not param.required and not callable(default)
    if getattr(param, "is_flag", False) and known:
        chosen = param.opts if default else param.secondary_opts
        return f"{param.help} Default: `{chosen[0]}`." if chosen else param.help
    stated = known and "Default:" not in (param.help or "")
    return f"{param.help} Default: `{default}`." if stated else param.help or ""


def _unwrapped(text: str) -> str:
    paragraphs = re.split(r"\n\s*\n", text.strip())
    return "\n\n".join(" ".join(part.split()) for part in paragraphs)


def run_table_page() -> str:
    """Every column of offsets.csv, marks.csv and gauge.csv."""
    tables = {
        "offsets.csv": OFFSET_COLUMNS,
        "marks.csv": MARK_COLUMNS,
        "gauge.csv": GAUGE_COLUMNS,
    }
    parts = [HEAD, TABLES_HEAD]
    for name, columns in tables.items():
        parts.append(f"\n## {name}\n\n| column | kind | meaning |\n|---|---|---|\n")
        parts += [f"| `{c.name}` | {_kind(c)} | {c.meaning} |\n" for c in columns]
    parts.append("\n## corrections.csv\n\n| column | kind | meaning |\n|---|---|---|\n")
    for field in fields(Correction):
        kind, meaning = CORRECTION_COLUMNS[field.name]
        parts.append(f"| `{field.name}` | {kind} | {meaning} |\n")
    return "".join(parts)


def _kind(column: Column) -> str:
    return KINDS.get(column.dtype, "text")


def flags_page() -> str:
    """Every flag with its number and its sentence."""
    rows = [f"| {flag.value} | `{flag.name}` | {SENTENCES[flag]} |\n" for flag in MarkFlag]
    limits = [f"| `{name}` | {value:g} | {means} |\n" for name, value, means in meanings()]
    return "".join(
        [
            *(HEAD, FLAGS_HEAD, "\n| number | name | meaning |\n|---|---|---|\n"),
            *rows,
            *(LIMITS_HEAD, "\n| threshold | value | what it does |\n|---|---|---|\n"),
            *limits,
        ]
    )


def messages_page() -> str:
    """Every kind of error, and the problems each part of regscan can name."""
    parts = [HEAD, MESSAGES_HEAD, "\n## Kinds\n\n| slug | about |\n|---|---|\n"]
    parts += [f"| `{kind.slug}` | {_first_line(kind)} |\n" for kind in _kinds(errors.RegscanError)]
    parts.append("\n## Problems\n\n`…` stands for what was found.\n")
    for path in sorted(PACKAGE.rglob("*.py")):
        found = list(dict.fromkeys(problems_in(path)))
        if found:
            parts.append(f"\n### {path.relative_to(PACKAGE).as_posix()}\n\n")
            parts.append("| problem | cure |\n|---|---|\n")
            parts += [f"| {_cell(what)} | {_cell(cure)} |\n" for what, cure in found]
    return "".join(parts)


def _kinds(root: type[errors.RegscanError]) -> Iterator[type[errors.RegscanError]]:
    for kind in root.__subclasses__():
        yield kind
        yield from _kinds(kind)


def _first_line(kind: type) -> str:
    return (kind.__doc__ or "").strip().partition("\n")[0]


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ").replace("<", "&lt;")


def problems_in(path: Path) -> Iterator[tuple[str, str]]:
    """(what, cure) of every Problem a source file can make, with `…` for what varies."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        names = _texts_by_name(function)
        for node in ast.walk(function):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Problem":
                given = dict(zip(("place", "what", "cure"), node.args, strict=False))
                given |= {word.arg: word.value for word in node.keywords if word.arg}
                what, cure = (_text(given.get(part), names) for part in ("what", "cure"))
                if what != "…":
                    yield what, cure


def _texts_by_name(function: ast.FunctionDef) -> dict[str, str]:
    texts: dict[str, str] = {}
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name, text = node.targets[0].id, _text(node.value, {})
            texts[name] = f"{texts[name]} / {text}" if name in texts else text
    return texts


def _text(node: ast.expr | None, names: dict[str, str]) -> str:
    """The words of a string expression; `…` for what only a run can tell."""
    match node:
        case None:
            return ""
        case ast.Constant(value=str(text)):
            return text
        case ast.JoinedStr(values=values):
            return "".join(_text(value, names) for value in values)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return _text(left, names) + _text(right, names)
        case ast.IfExp(body=body, orelse=orelse):
            either = [text for text in (_text(body, names), _text(orelse, names)) if text]
            return " / ".join(either)
        case ast.Name(id=name):
            return names.get(name, "…")
    return "…"


PAGES = {
    "how/causes.md": causes_page,
    "commands.md": commands_page,
    "run_table.md": run_table_page,
    "flags.md": flags_page,
    "messages.md": messages_page,
}

if __name__ == "__main__":
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")
        print(DOCS / name)
