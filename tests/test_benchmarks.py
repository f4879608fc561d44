"""The benchmarks are run by hand; here they are only loaded, so that none falls behind a name that changes."""

import importlib.util
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "benchmarks"


@pytest.fixture
def benchmark(monkeypatch):
    """A benchmark as a module, by its file."""

    def load(path):
        monkeypatch.syspath_prepend(str(FOLDER))
        spec = importlib.util.spec_from_file_location(f"benchmark_{path.stem}", path)
        module = importlib.util.module_from_spec(spec)
        monkeypatch.setitem(sys.modules, spec.name, module)  # dataclasses look their module up
        spec.loader.exec_module(module)
        return module

    return load


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.py")), ids=lambda path: path.stem)
def test_a_benchmark_loads_and_says_how_it_is_run(path, benchmark):
    assert "by hand" in benchmark(path).__doc__


def test_a_ride_is_measured_beside_its_truth_and_beside_the_peer(benchmark):
    """The peer is made from a path's own parts, which no other program takes apart."""
    accuracy = benchmark(FOLDER / "accuracy.py")
    case = next(case for case in accuracy.grid() if case.name == "10 Hz velocity")
    own, peer = accuracy.one("sample", "smooth", case, seed=1, laps=1)
    for of_path in (own, peer):
        corners = of_path["corners"]
        away = corners["radius_min_m"] / corners["radius_min_m_true"] - 1.0
        assert 0.0 < away.abs().median() < 0.1
        assert 0.0 < of_path["all round"]["rms"].item() < 3.0
    assert own["all round"]["rms"].item() != peer["all round"]["rms"].item()
