"""Imports go down the floors of the house, never up."""

import ast
import re
from pathlib import Path

import pytest

import lapkit

ROOT = Path(lapkit.__file__).parent
FLOORS = [
    {"__main__"},
    {"cli"},
    {"library", "rerun"},
    {"pipeline", "sample"},
    {"jobs"},
    {"inputs", "course_source"},
    {"reporter"},
    {"season"},
    {"reviews", "runs", "packed", "provenance", "cluster", "coach_line"},
    {"findings"},
    {"compare"},
    {"splitter", "options"},
    {"path", "simulate"},
    {"importer", "course"},
    {"lean", "curvature", "coordinates"},
    {"units", "whole_file"},
    {"errors", "workers", "counting", "rounding"},
]
FLOOR_OF = {room: number for number, floor in enumerate(FLOORS) for room in floor}


def room_of(path):
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("lapkit."):
            yield node.lineno, node.module.split(".")[1]
        elif isinstance(node, ast.ImportFrom) and node.module == "lapkit":
            rooms = (alias.name for alias in node.names if alias.name in FLOOR_OF)
            yield from ((node.lineno, room) for room in rooms)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("lapkit."):
                    yield node.lineno, alias.name.split(".")[1]


FILES = sorted(p for p in ROOT.rglob("*.py") if p.name != "__init__.py" or p.parent != ROOT)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_down(path):
    room = room_of(path)
    for line, other in imports_of(path):
        assert other == room or FLOOR_OF[other] > FLOOR_OF[room], f"{path}:{line} imports {other}"


def test_every_room_has_a_floor():
    rooms = {room_of(p) for p in FILES}
    assert rooms <= set(FLOOR_OF), rooms - set(FLOOR_OF)


def test_the_floors_stand_in_the_developers_guide():
    guide = (ROOT.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.split("| floor | rooms |")[1].split("\n\n")[0]
    named = [
        set(re.findall(r"`(\w+)(?:/|\.py)`", row.split("|")[1])) for row in table.split("\n")[2:]
    ]
    assert named == [floor for floor in FLOORS if floor != {"__main__"}]
