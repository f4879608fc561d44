"""Where the bundled event is found."""

import pytest

from lapkit import sample
from lapkit.errors import EventError
from lapkit.sample import sample_event


def placed(monkeypatch, tmp_path, *folders):
    """An installation of lapkit with an event in these folders."""
    package = tmp_path / "lapkit"
    package.mkdir()
    for folder in folders:
        (tmp_path / folder).mkdir(parents=True)
        (tmp_path / folder / "riders.csv").touch()
    monkeypatch.setattr(sample, "__file__", str(package / "sample.py"))


def test_installed_it_is_inside_the_package(monkeypatch, tmp_path):
    placed(monkeypatch, tmp_path, "lapkit/sample_event", "sample_data")
    assert sample_event() == tmp_path / "lapkit" / "sample_event"


def test_in_a_checkout_it_is_beside_the_package(monkeypatch, tmp_path):
    placed(monkeypatch, tmp_path, "sample_data")
    assert sample_event() == tmp_path / "sample_data"


def test_without_it_the_remedy_is_to_install_again(monkeypatch, tmp_path):
    placed(monkeypatch, tmp_path)
    with pytest.raises(EventError, match="missing") as refused:
        sample_event()
    assert "Install" in refused.value.remedy
