"""Every kind of error has its entry in DEVELOPERS.md, a remedy, and a test that triggers it."""

import ast
import inspect
import re
from pathlib import Path

import numpy as np
import pytest

import lapkit.errors
from lapkit.course.plane import Plane
from lapkit.errors import LapkitError, PathError
from lapkit.importer.log import Log
from lapkit.path.ridden import ride_path

ROOT = Path(__file__).resolve().parents[1]
FAMILY = [
    kind
    for _, kind in inspect.getmembers(lapkit.errors, inspect.isclass)
    if issubclass(kind, LapkitError) and kind is not LapkitError
]
SOURCES = sorted((ROOT / "lapkit").rglob("*.py"))
ENTRY = re.compile(r"^\| `(\w+Error)` \| (.+) \| (.+) \| `(tests/[\w/]+\.py)` \|$", re.MULTILINE)


@pytest.fixture(scope="module")
def entries():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return {name: rest for name, *rest in ENTRY.findall(text)}


@pytest.mark.parametrize("kind", FAMILY, ids=lambda kind: kind.__name__)
def test_each_kind_has_an_entry_and_a_test(kind, entries):
    when, remedy, test = entries[kind.__name__]
    assert len(when) > 20 and len(remedy) > 10
    text = (ROOT / test).read_text(encoding="utf-8")
    assert re.search(rf"pytest\.raises\(\s*{kind.__name__}\b", text)


def test_no_entry_is_about_a_kind_that_is_gone(entries):
    assert set(entries) == {kind.__name__ for kind in FAMILY}


@pytest.mark.parametrize("file", SOURCES, ids=lambda file: str(file.relative_to(ROOT)))
def test_every_error_says_what_to_do(file):
    names = {kind.__name__ for kind in FAMILY}
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in names:
            assert "remedy" in {word.arg for word in node.keywords}, f"{file}:{node.lineno}"


def test_too_few_fixes_for_a_path():
    log = Log("short.csv", "", np.arange(4.0), 50 + np.arange(4) * 1e-5, np.zeros(4))
    with pytest.raises(PathError, match="fewer than eight fixes") as refused:
        ride_path(log, Plane(50.0, 0.0))
    assert refused.value.where == "short.csv"
    assert refused.value.remedy
