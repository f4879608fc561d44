import pytest

from lapkit.errors import LapkitError
from lapkit.pipeline import event


@pytest.fixture
def folder(tmp_path):
    """An event folder without a track file whose one line points out of it."""
    (tmp_path / "secret.csv").write_text("time,lat,lon\n1,47.0,8.0\n2,47.0,8.0\n")
    inside = tmp_path / "event"
    inside.mkdir()
    (inside / "riders.csv").write_text("rider,session,file\nAda,1,../secret.csv\n")
    return inside


def test_a_log_outside_the_folder_is_not_opened_to_find_the_course(folder, monkeypatch):
    opened = []
    monkeypatch.setattr("lapkit.runs.read_logs", lambda path, **_: opened.append(path) or ())
    with pytest.raises(LapkitError):
        event(folder, workers=1)
    assert opened == []


def test_the_reason_is_the_line_s_own(folder):
    with pytest.raises(LapkitError, match="the path leaves the event folder"):
        event(folder, workers=1)
