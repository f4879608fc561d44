"""The public names: all there, each documented, loaded only when asked for."""

import ast
import dataclasses
import enum
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import lapkit

SOURCE = ast.parse(Path(lapkit.__file__).read_text(encoding="utf-8"))
PUBLIC = [name for name in lapkit.__all__ if name != "__version__"]
UNITS = re.compile(
    r"\bmetres?\b|\bm\b|m/s|1/m|\bseconds?\b|\bs\b|degrees?|radians|°|SI\b|dimensionless|UTC|\d s\b"
    r"|_mps?\b|_deg\b"
)
WITHOUT_UNITS = {
    *(name for name in PUBLIC if name.endswith("Error")),
    "Finding",  # sizes are in each measure's own unit, which its docstring says
    "Quality",
    "RunResult",
    "Unusable",
    "EventReview",
    "RiderReview",
    "assess",
    "read_log",
    "read_logs",
    "read_track",
    "write_track",
    "place",
    "sample_event",
    "Summary",
    "summarise",
    "split",
    "solve_marker_line",
}
"""Names whose own docstring has no number with a unit to tell of."""


def names_for_type_checkers():
    block = next(n for n in SOURCE.body if isinstance(n, ast.If))
    return {
        alias.name: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def test_type_checkers_see_what_is_loaded():
    assert names_for_type_checkers() == lapkit._HOME_OF
    assert sorted(PUBLIC) == sorted(lapkit._HOME_OF)
    assert len(set(lapkit.__all__)) == len(lapkit.__all__)


@pytest.mark.parametrize("name", PUBLIC)
def test_public_names_exist_and_are_documented(name):
    thing = getattr(lapkit, name)
    text = inspect.getdoc(thing)
    assert text
    assert not text.startswith(f"{name}("), "the docstring is only the one dataclasses make"
    if name not in WITHOUT_UNITS:
        assert UNITS.search(text), f"{name} tells no unit"


@pytest.mark.parametrize("name", PUBLIC)
def test_public_functions_are_annotated_whole(name):
    thing = getattr(lapkit, name)
    if not inspect.isfunction(thing):
        return
    signature = inspect.signature(thing)
    assert signature.return_annotation is not inspect.Signature.empty
    for parameter in signature.parameters.values():
        assert parameter.annotation is not inspect.Parameter.empty, parameter


@pytest.mark.parametrize(
    "name", [n for n in PUBLIC if inspect.isclass(getattr(lapkit, n)) and not n.endswith("Error")]
)
def test_public_classes_document_what_they_offer(name):
    thing = getattr(lapkit, name)
    for attribute, value in vars(thing).items():
        if attribute.startswith("_") or isinstance(value, enum.Enum):
            continue
        if inspect.isfunction(value) or isinstance(value, property):
            assert inspect.getdoc(value), f"{name}.{attribute}"


ATTRIBUTES = re.compile(r"^    (\w+(?:, \w+)*):", re.MULTILINE)


@pytest.mark.parametrize(
    "name", [n for n in PUBLIC if "Attributes:" in (inspect.getdoc(getattr(lapkit, n)) or "")]
)
def test_a_list_of_attributes_is_whole_and_names_no_others(name):
    thing = getattr(lapkit, name)
    lines = ATTRIBUTES.findall(inspect.getdoc(thing).split("Attributes:")[1])
    listed = {one for line in lines for one in line.split(", ")}
    fields = {field.name for field in dataclasses.fields(thing)}
    assert fields <= listed <= fields | set(dir(thing))


def test_results_are_frozen():
    for name in ("Run", "Log", "Course", "Corner", "RunResult", "EventReview", "Finding", "Lap"):
        kind = getattr(lapkit, name)
        assert dataclasses.fields(kind) and kind.__dataclass_params__.frozen, name


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        lapkit.nothing  # noqa: B018


def test_dir_lists_every_public_name():
    assert set(lapkit.__all__) <= set(dir(lapkit))


def fresh(code):
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr


def test_importing_lapkit_loads_nothing_heavy():
    fresh(
        "import sys, lapkit\n"
        "assert not {'numpy', 'pandas', 'scipy', 'matplotlib', 'click'} & set(sys.modules)\n"
    )


def test_lean_functions_load_neither_pandas_nor_matplotlib():
    fresh(
        "import sys\n"
        "from lapkit import balance_lean_deg, grip_demand, radius_m\n"
        "assert round(float(balance_lean_deg(20.0, 1 / 50))) == 39\n"
        "assert not {'pandas', 'scipy', 'matplotlib'} & set(sys.modules)\n"
    )
