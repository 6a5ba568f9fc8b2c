"""Imports only go down the stairs. The table is the architecture."""

import ast
from pathlib import Path

import pytest

import regscan

GROUND = "units errors tomlfile wholefile"
MAY_IMPORT = {
    "units": "",
    "errors": "",
    "tomlfile": "errors",
    "wholefile": "errors",
    "threads": "",
    "workers": "errors threads",
    "cluster": "errors workers",
    "job": GROUND,
    "camera": GROUND,
    "recording": GROUND,
    "marks": f"{GROUND} job camera recording",
    "simulator": f"{GROUND} job camera recording",  # draws marks, never reads them
    "offsets": f"{GROUND} job camera marks",
    "instrument": f"{GROUND} job camera recording marks offsets",
    "drift": f"{GROUND} job recording offsets",
    "verdict": f"{GROUND} job offsets drift",
    "run": f"{GROUND} job camera offsets drift verdict",
    "measuring": f"{GROUND} job camera recording marks offsets run",
    "journal": f"{GROUND} job camera recording offsets measuring",
    "gathering": f"{GROUND} journal recording offsets run",
    "pipeline": f"{GROUND} workers job camera recording measuring journal gathering offsets drift"
    " verdict run",
    "report": f"{GROUND} job camera recording offsets drift verdict run",
    "history": f"{GROUND} job drift verdict run report",
    "watch": f"{GROUND} job camera recording measuring journal offsets drift verdict run pipeline"
    " report",
    "cli": f"{GROUND} job camera recording instrument simulator drift verdict offsets run pipeline"
    " workers cluster journal report history watch",
}
# Inside the room of marks: what its own rooms may import of each other.
MARKS = {
    "shape": "",
    "seeing": "",
    "finding": "shape seeing",
    "fitting": "shape seeing",
    "overlap": "shape seeing",
    "judging": "shape seeing fitting overlap",
}
ROOT = Path(regscan.__file__).parent


def modules_imported(path):
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom):
            assert not node.level, f"{path}: spell the import out in full"
            names = (
                [f"regscan.{alias.name}" for alias in node.names]
                if node.module == "regscan"
                else [node.module]
            )
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        yield from (name.split(".")[1:] for name in names if name.startswith("regscan."))


def rooms_imported(path):
    yield from (name[0] for name in modules_imported(path))


@pytest.mark.parametrize("room", sorted(MAY_IMPORT))
def test_room_only_looks_down(room):
    files = [ROOT / f"{room}.py"] if (ROOT / f"{room}.py").exists() else (ROOT / room).rglob("*.py")
    used = {(file.name, other) for file in files for other in rooms_imported(file)}
    allowed = set(MAY_IMPORT[room].split()) | {room}
    assert {(file, other) for file, other in used if other not in allowed} == set()


def test_every_room_is_in_the_table():
    rooms = {
        path.stem
        for path in ROOT.iterdir()
        if not path.name.startswith(("_", ".", "py.typed")) and path.name != "sample_images"
    }
    assert rooms == set(MAY_IMPORT)


@pytest.mark.parametrize("room", sorted(MARKS))
def test_a_room_of_marks_only_looks_down(room):
    rooms = {path.name for path in (ROOT / "marks").iterdir() if path.is_dir()} - {"__pycache__"}
    assert rooms == set(MARKS)
    used = {
        (file.name, name[1])
        for file in (ROOT / "marks" / room).glob("*.py")
        for name in modules_imported(file)
        if name[0] == "marks" and name[1] in rooms
    }
    allowed = {*MARKS[room].split(), room}
    assert {(file, other) for file, other in used if other not in allowed} == set()


def test_rooms_of_marks_stand_on_few_records():
    """What lies beside them in the room of marks and is used inside them."""
    own = {
        name[1]
        for file in (ROOT / "marks").glob("*/*.py")
        for name in modules_imported(file)
        if name[0] == "marks" and name[1] not in MARKS
    }
    assert own == {"clusters", "doubt", "flags", "limits", "mark", "median", "printing"}
