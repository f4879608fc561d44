"""Imports go down the floors of the house, never up."""

import ast
import re
import sys
import tomllib
from pathlib import Path

import pytest

import lapkit

ROOT = Path(lapkit.__file__).parent
FLOORS = [
    {"__main__"},
    {"cli"},
    {"library", "rerun"},
    {"pipeline", "track_sheets", "walked_track", "sample"},
    {"reporter"},
    {"season"},
    {"measuring"},
    {"findings"},
    {"compare"},
    {"splitter"},
    {"path", "simulate"},
    {"importer", "course"},
    {"lean", "curvature", "coordinates"},
    {"units", "arrays", "whole_file", "lock"},
    {"errors", "counting", "days", "remarks", "rounding"},
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


def declared_packages():
    """Packages that pyproject.toml names for running lapkit, its own extras included, the tests' not."""
    project = tomllib.loads((ROOT.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    wanted = [
        *project["dependencies"],
        *(p for name in extras if name != "test" for p in extras[name]),
    ]
    return {re.match(r"[\w-]+", line)[0] for line in wanted}


def test_nothing_is_imported_that_the_installation_does_not_bring():
    """A package that only the tests ask for is there whenever they run, and missing for everybody else."""
    known = declared_packages() | set(sys.stdlib_module_names) | {"lapkit"}
    known |= {"markupsafe"}  # jinja2 is made of it, and has its own users import it
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            modules = (
                [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            )
            if isinstance(node, ast.Import):
                modules = [alias.name for alias in node.names]
            for module in modules:
                assert module.split(".")[0] in known, f"{path}:{node.lineno} imports {module}"
