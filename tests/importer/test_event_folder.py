"""An event folder: its table, riders whose names look alike, and whose logs those near a table are."""

import pytest

from lapkit.errors import EventError
from lapkit.importer.event_folder import entries_of_logs, read_event_folder


def folder(tmp_path, text, *files):
    event = tmp_path / "event"
    for name in files:
        (event / name).parent.mkdir(parents=True, exist_ok=True)
        (event / name).write_text("x")
    (event / "riders.csv").write_text(text)
    return event


def test_a_folder_is_its_table(tmp_path):
    event = folder(tmp_path, "rider,session,file\nAda,1,a.gpx\n", "a.gpx")
    (entry,) = read_event_folder(event).entries
    assert (entry.rider, entry.path) == ("Ada", event / "a.gpx")


def test_a_file_or_nothing_is_no_event_folder(tmp_path):
    (tmp_path / "a.gpx").write_text("x")
    for path in (tmp_path / "a.gpx", tmp_path / "none"):
        with pytest.raises(EventError, match="no such event folder"):
            read_event_folder(path)


def test_logs_are_called_as_the_riders_csv_near_by_calls_them(tmp_path):
    event = folder(
        tmp_path,
        "rider,session,file\nAda,1,a.gpx\nAda,2,logs/b.gpx\nBo,1,both.csv\nCy,1,both.csv\n",
        "a.gpx",
        "both.csv",
        "stray.gpx",
        "logs/b.gpx",
    )
    other = tmp_path / "stray.gpx"
    other.write_text("x")
    names = ["logs/b.gpx", "a.gpx", "both.csv", "stray.gpx", "a.gpx"]
    found = entries_of_logs([*(event / name for name in names), other])
    assert [(e.rider, e.session) for e in found] == [
        ("Ada", "2"),
        ("Ada", "1"),
        ("both.csv", "1"),  # of two riders, whom the file itself must tell apart
        ("stray.gpx", "1"),
        ("stray.gpx", "2"),
    ]


def test_a_riders_csv_is_near_a_log_in_its_folder_and_in_the_next_one_up(tmp_path):
    event = folder(tmp_path, "rider,session,file\nAda,1,day/logs/a.gpx\n", "day/logs/a.gpx")
    (entry,) = entries_of_logs([event / "day/logs/a.gpx"])
    assert entry.rider == "a.gpx"
    (event / "riders.csv").rename(event / "day" / "riders.csv")
    (event / "day" / "riders.csv").write_text("rider,session,file\nAda,1,logs/a.gpx\n")
    # The nearest table is of other logs.
    (event / "day/logs/riders.csv").write_text("rider,session,file\nBo,1,b.gpx\n")
    (entry,) = entries_of_logs([event / "day/logs/a.gpx"])
    assert entry.rider == "Ada"


def test_a_riders_csv_with_a_fault_names_no_log(tmp_path):
    event = folder(tmp_path, "rider,file\nAda,a.gpx\n", "a.gpx")
    (entry,) = entries_of_logs([event / "a.gpx"])
    assert (entry.rider, entry.session) == ("a.gpx", "1")


def test_a_line_with_a_fault_names_no_log(tmp_path):
    text = "rider,session,file,com_height_m\nAda,1,a.gpx,tall\n"
    (entry,) = entries_of_logs([folder(tmp_path, text, "a.gpx") / "a.gpx"])
    assert (entry.rider, entry.fault) == ("a.gpx", "")


def test_runs_of_one_name_from_the_tables_of_two_days_are_kept_apart(tmp_path):
    logs = []
    for day in ("june", "july"):
        (tmp_path / day).mkdir()
        text = "rider,session,file\nAda,1,a.gpx\n"
        logs.append(folder(tmp_path / day, text, "a.gpx") / "a.gpx")
    found = entries_of_logs(logs)
    assert [(one.rider, one.session) for one in found] == [("Ada", "1"), ("Ada", "1 (2)")]
