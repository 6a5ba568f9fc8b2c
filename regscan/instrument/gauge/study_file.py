"""study.csv, or a tree of folders: which frame shows which part, in which set-up, how often."""

import csv
import io
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from regscan.errors import BadStudy, Problem
from regscan.instrument.gauge.study import Entry
from regscan.recording.kinds import is_picture, natural_key
from regscan.tomlfile import shown, suggest

NAME = "study.csv"
# What a column may be called, the first as the manual writes it.
COLUMNS = {
    "frame": ("frame",),
    "part": ("position", "part"),
    "setup": ("setup", "set-up", "operator", "appraiser"),
    "trial": ("trial", "repeat"),
}
_LARGEST_BYTES = 20_000_000
_SHOWN = 12


def read_study(path: Path) -> tuple[Entry, ...]:
    """The frames of study.csv in its order. Raises BadStudy with every problem."""
    rows = _rows(path)
    if not rows:
        raise BadStudy(path, Problem("", "is empty", "write frame,position,setup,trial and rows"))
    names = [cell.strip().lower() for cell in rows[0][1]]
    places, problems = _columns(names)
    if len(rows) == 1 and not problems:
        problems.append(Problem("", "has a header but no rows", "add one row per frame"))
    entries: list[Entry] = []
    for line, row in rows[1:] if not problems else []:
        cells = [cell.strip() for cell in row]
        if len(cells) != len(names):
            what = f"has {len(cells)} fields, the header {len(names)}"
            problems.append(Problem(f"line {line}", what, "put text with commas in quotes"))
            continue
        wrong = _cell_problems(cells, places, line)
        problems += wrong
        if not wrong:
            entries.append(_entry(cells, places))
    problems += [
        Problem("frame", f"{shown(frame)} is there {count} times", "list every frame once")
        for frame, count in Counter(entry.frame for entry in entries).items()
        if count > 1
    ]
    if problems:
        raise BadStudy(path, _first_ones(problems))
    return tuple(entries)


def study_of_folders(folder: Path) -> tuple[Entry, ...]:
    """POSITION/frames or POSITION/SETUP/frames below a folder; () where it has no such tree.

    Frames are named by their way from the folder, with slashes. Trials count in natural
    order of the names.
    """
    entries = []
    for part in _folders(folder):
        inside = [(part, "")] if _pictures(part) else []
        inside += [(setup, setup.name) for setup in _folders(part) if _pictures(setup)]
        for where, setup_name in inside:
            entries += [
                Entry(picture.relative_to(folder).as_posix(), part.name, setup_name)
                for picture in _pictures(where)
            ]
    return tuple(entries)


def _folders(folder: Path) -> list[Path]:
    found = [path for path in folder.iterdir() if path.is_dir() and not path.name.startswith(".")]
    return sorted(found, key=lambda path: natural_key(path.name))


def _pictures(folder: Path) -> list[Path]:
    found = [path for path in folder.iterdir() if path.is_file() and is_picture(path)]
    return sorted(found, key=lambda path: natural_key(path.name))


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    """(line, cells) of all rows that are not blank."""
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise BadStudy(path, Problem("", "is far too large", "name a table of frames"))
        text = path.read_bytes().decode("utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        return [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except UnicodeDecodeError:
        raise BadStudy(path, Problem("", "is not UTF-8 text", "save it as CSV in UTF-8")) from None
    except csv.Error as fault:
        raise BadStudy(path, Problem("", f"is not CSV ({fault})", "save it as CSV")) from None
    except (OSError, ValueError) as fault:  # ValueError: a name with a null character
        reason = getattr(fault, "strerror", None) or str(fault)
        cure = "check the name, the folder and the permissions"
        raise BadStudy(path, Problem("", f"cannot be read ({reason})", cure)) from None


def _columns(names: Sequence[str]) -> tuple[dict[str, int], list[Problem]]:
    """Where each column stands; frame and position must be there."""
    places: dict[str, int] = {}
    problems = []
    known = [name for choices in COLUMNS.values() for name in choices]
    for index, name in enumerate(names):
        column = next((key for key, choices in COLUMNS.items() if name in choices), None)
        if column is None:
            problems.append(Problem(f"column {shown(name)}", "is not known", suggest(name, known)))
        elif column in places:
            problems.append(Problem(f"column {shown(name)}", "is there twice", "keep one"))
        else:
            places[column] = index
    for column in ("frame", "part"):
        if column not in places:
            name = COLUMNS[column][0]
            problems.append(Problem("line 1", f"column {name} is missing", f"add {name}"))
    return places, problems


def _cell_problems(cells: Sequence[str], places: dict[str, int], line: int) -> list[Problem]:
    place = f"line {line}"
    problems = [
        Problem(place, f"{COLUMNS[column][0]} is empty", "fill it in, or leave the row out")
        for column, index in places.items()
        if not cells[index]
    ]
    trial = cells[places["trial"]] if "trial" in places else ""
    if trial and not (trial.isascii() and trial.isdigit() and 0 < int(trial[:9]) < 10**6):
        cure = "count trials 1, 2, 3 within a position and set-up"
        problems.append(Problem(place, f"{shown(trial)} is no number of a trial", cure))
    return problems


def _entry(cells: Sequence[str], places: dict[str, int]) -> Entry:
    trial = int(cells[places["trial"]]) if "trial" in places else None
    setup = cells[places["setup"]] if "setup" in places else ""
    return Entry(cells[places["frame"]], cells[places["part"]], setup, trial)


def _first_ones(problems: list[Problem]) -> list[Problem]:
    if len(problems) <= _SHOWN:
        return problems
    more = Problem("", f"and {len(problems) - _SHOWN} more problems", "as above")
    return [*problems[:_SHOWN], more]
