"""The benchmarks are run by hand; here they are only loaded, so that none falls behind a name that changes."""

import importlib.util
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "benchmarks"


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.py")), ids=lambda path: path.stem)
def test_a_benchmark_loads_and_says_how_it_is_run(path, monkeypatch):
    monkeypatch.syspath_prepend(str(FOLDER))
    spec = importlib.util.spec_from_file_location(f"benchmark_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, spec.name, module)  # dataclasses look their module up
    spec.loader.exec_module(module)
    assert "by hand" in module.__doc__
