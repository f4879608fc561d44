"""``riders.csv``: its columns and lines, and what makes a line or the whole of it useless."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from lapkit.errors import EventError
from lapkit.importer.event_folder import read_event_folder
from lapkit.importer.heights import Heights
from lapkit.importer.riders_file import read_riders


def folder(tmp_path, text, *files):
    event = tmp_path / "event"
    event.mkdir()
    (event / "riders.csv").write_bytes(text.encode() if isinstance(text, str) else text)
    for name in files:
        (event / name).write_text("x")
    return event


def test_lines_come_in_order_with_defaults_for_what_is_empty(tmp_path):
    event = folder(
        tmp_path,
        "rider,session,file,group,antenna_height_m\nAda,1,a.gpx,novice,1.05\nBo,,b.csv,,\n",
        "a.gpx",
        "b.csv",
    )
    ada, bo = read_event_folder(event).entries
    assert (ada.rider, ada.session, ada.group) == ("Ada", "1", "novice")
    assert (bo.session, bo.group, bo.heights) == ("1", "", Heights.usual())
    assert ada.fault == bo.fault == ""


def test_heights_of_a_line_are_its_machines(tmp_path):
    text = (
        "rider,session,file,antenna_height_m,com_height_m,tyre_radius_m\n"
        "Ada,1,a.gpx,1.05,,\nBo,1,a.gpx,,0.7,0.1\n"
    )
    ada, bo = read_event_folder(folder(tmp_path, text, "a.gpx")).entries
    assert ada.heights == Heights(antenna_m=1.05)
    assert ada.heights.antenna_measured
    # Nobody measured his antenna, whatever else he did.
    assert bo.heights == replace(Heights.usual(), com_m=0.7, tyre_radius_m=0.1)
    assert not bo.heights.antenna_measured


def test_a_spreadsheet_s_semicolons_mark_and_decimal_commas_are_read(tmp_path):
    event = folder(
        tmp_path, "\ufeffRider;Session;File;com_height_m\nÄnne;früh;a.gpx;0,65\n", "a.gpx"
    )
    (entry,) = read_event_folder(event).entries
    assert (entry.rider, entry.session, entry.heights.com_m) == ("Änne", "früh", 0.65)


@pytest.mark.parametrize("file", ["../outside.gpx", "/etc/passwd", "a/../../x"])
def test_a_path_may_not_leave_the_folder(tmp_path, file):
    (tmp_path / "outside.gpx").write_text("x")
    (entry,) = read_event_folder(folder(tmp_path, f"rider,session,file\nAda,1,{file}\n")).entries
    outside = "it lies outside the event folder; copy it into that folder"
    assert entry.fault in (outside, "no such file in the event folder")


@pytest.mark.parametrize(
    "file", ["ada-1.GPX.gz", "logs\\Ada-1.gpx.gz", "log/ada-1.gpx", "Ada-1.gpx", "ada_1.gpx"]
)
def test_the_file_that_a_wrong_path_may_have_meant_is_named(tmp_path, file):
    event = folder(tmp_path, f"rider,session,file\nAda,1,{file}\n")
    (event / "logs").mkdir()
    (event / "logs" / "Ada-1.gpx.gz").touch()
    (entry,) = read_event_folder(event).entries
    assert entry.fault == "no such file in the event folder; perhaps logs/Ada-1.gpx.gz is meant"
    (event / "ada-1.GPX").touch()
    (entry,) = read_event_folder(event).entries
    assert entry.fault.partition(";")[0] == "no such file in the event folder"
    assert "perhaps" not in entry.fault


def test_a_link_out_of_the_folder_is_leaving_it(tmp_path):
    (tmp_path / "secret.gpx").write_text("x")
    event = folder(tmp_path, "rider,session,file\nAda,1,link.gpx\n")
    (event / "link.gpx").symlink_to(tmp_path / "secret.gpx")
    (entry,) = read_event_folder(event).entries
    assert entry.fault == "it lies outside the event folder; copy it into that folder"


def test_a_folder_in_place_of_a_log_is_told_as_one(tmp_path):
    event = folder(tmp_path, "rider,session,file\nAda,1,logs\n")
    (event / "logs").mkdir()
    (entry,) = read_event_folder(event).entries
    assert entry.fault == "it is a folder, not a log; a line names one log"


def test_a_column_that_may_be_misspelt_is_named_with_what_was_meant(tmp_path):
    head = "rider;session;file;Antenna height (m);bikes;date;No;com_height_m"
    event = folder(tmp_path, f"{head}\nAda;1;a.gpx;0,7;x;y;1;0,6\n", "a.gpx")
    found = read_event_folder(event).misspelt
    assert found == (("antenna height (m)", "antenna_height_m"), ("bikes", "bike"))
    (event / "riders.csv").write_text("rider,session,file,antenna,notes,note\nAda,1,a.gpx,,,\n")
    assert read_event_folder(event).misspelt == (("antenna", "antenna_height_m"),)


def test_what_stands_in_no_named_column_is_not_read(tmp_path):
    """Cells behind the header, and under an empty one; a line of nothing else is an empty one."""
    event = folder(tmp_path, "rider,session,file,\nAda,1,a.gpx,x,y,z\n,,,sum,3\n", "a.gpx")
    (entry,) = read_event_folder(event).entries
    assert (entry.rider, entry.note, entry.fault) == ("Ada", "", "")


def test_a_height_that_is_none_is_a_fault_of_that_line_only(tmp_path):
    event = folder(
        tmp_path, "rider,session,file,com_height_m\nAda,1,a.gpx,tall\nBo,1,a.gpx,0.6\n", "a.gpx"
    )
    ada, bo = read_event_folder(event).entries
    assert "com_height_m is 'tall'" in ada.fault
    assert bo.fault == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rider,file\nAda,a.gpx\n", r"no column session \(found: rider, file\)"),
        ("rider,session,file\n", "names no log"),
        ("rider,session,file\n,1,a.gpx\n", "no rider on this line"),
        (b"\xff\xfe\x00\x00", r"no column rider, session, file \(found: none\)"),
    ],
)
def test_a_refusal_says_what_is_wrong_and_where(tmp_path, text, words):
    with pytest.raises(EventError, match=words) as caught:
        read_event_folder(folder(tmp_path, text))
    assert "riders.csv" in str(caught.value)
    assert caught.value.remedy


def test_names_lose_what_a_terminal_would_obey(tmp_path):
    (tmp_path / "a.csv").write_text("x")
    (tmp_path / "riders.csv").write_text(
        'rider,session,file,note\n"Evil\x1b[31m\u202ename","1\x07","a.csv","' + "n" * 5000 + '"\n'
    )
    (entry,) = read_event_folder(tmp_path).entries
    assert entry.rider.isprintable() and "Evil" in entry.rider and "\x1b" not in entry.rider
    assert entry.session.isprintable()
    assert len(entry.note) < 300
    assert not entry.fault


def test_a_table_of_another_name_is_read_itself(tmp_path):
    (tmp_path / "a.csv").write_text("x")
    (tmp_path / "riders.csv").write_text("rider,session,file\nAda,1,a.csv\n")
    (tmp_path / "others.csv").write_text("rider,session,file\nBo,1,a.csv\n")
    (entry,) = read_riders(tmp_path / "others.csv").entries
    assert entry.rider == "Bo"
    with pytest.raises(EventError, match=r"third\.csv: there is no such file\. Check its name, or"):
        read_riders(tmp_path / "third.csv")


def test_a_riders_csv_without_permission_is_refused(tmp_path, monkeypatch):
    (tmp_path / "riders.csv").write_text("rider,session,file\nAmi,1,a.csv\n")

    def denied(path):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(
        EventError, match=r"riders.csv: the file cannot be read \(Permission denied\)"
    ):
        read_event_folder(tmp_path)


def test_a_riders_csv_that_is_no_file_is_refused_unopened(tmp_path):
    os.mkfifo(tmp_path / "riders.csv")
    with pytest.raises(EventError, match="not a regular file") as caught:
        read_event_folder(tmp_path)
    assert caught.value.remedy == "Give a riders.csv, not a pipe or a device."
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(EventError, match=r"folder\.csv: this is a folder"):
        read_riders(tmp_path / "folder.csv")
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(5_000_000)
    with pytest.raises(EventError, match=r"the file has 5 MB\. A riders\.csv has less than 4 MB"):
        read_riders(large)


def test_a_run_that_a_rider_has_twice_gets_a_name_of_its_own_and_a_remark(tmp_path):
    lines = "Ada,1,a.gpx\nAda,1 (2),b.gpx\nAda,1,c.gpx\nBo,1,a.gpx\n"
    event = folder(tmp_path, f"rider,session,file\n{lines}", "a.gpx", "b.gpx", "c.gpx")
    entries = read_event_folder(event).entries
    assert len({(e.rider, e.session) for e in entries}) == 4
    assert [bool(e.remark) for e in entries] == [False, False, True, False]
    assert "run 1 more than once; c.gpx is run 1 (3) here" in entries[2].remark


@pytest.mark.parametrize(
    ("cell", "meant"),
    [("60", "0.60 if centimetres"), ("0", "metres"), ("-60", "metres"), ("4", "metres")],
)
def test_a_height_in_centimetres_is_recognised(tmp_path, cell, meant):
    text = f"rider,session,file,com_height_m\nAda,1,a.gpx,{cell}\n"
    (entry,) = read_event_folder(folder(tmp_path, text, "a.gpx")).entries
    assert entry.fault.startswith(f"com_height_m is {cell!r}, not a height in metres")
    assert meant in entry.fault
    assert ("centimetres" in entry.fault) == (cell == "60")


@pytest.mark.parametrize(
    ("column", "cell", "told"),
    [
        ("tyre_radius_m", "0.9", "between 0 and 0.25"),
        ("tyre_radius_m", "9", "between 0 and 0.25; 0.09 if centimetres were meant"),
        ("tyre_radius_m", "6", "between 0 and 0.25; 0.06 if centimetres were meant"),
        ("tyre_radius_m", "4", "between 0 and 0.25"),
        ("com_height_m", "0.2", "between 0.3 and 1.5"),
        ("com_height_m", "150", "between 0.3 and 1.5"),
        ("com_height_m", "60", "between 0.3 and 1.5; 0.60 if centimetres were meant"),
        ("antenna_height_m", "-0.9", "between 0 and 3"),
        ("antenna_height_m", "3", "between 0 and 3"),
        ("antenna_height_m", "1e400", "between 0 and 3"),
    ],
)
def test_what_no_machine_measures_is_a_fault_of_its_line(tmp_path, column, cell, told):
    event = folder(tmp_path, f"rider,session,file,{column}\nAda,1,a.gpx,{cell}\n", "a.gpx")
    (entry,) = read_event_folder(event).entries
    assert entry.fault == f"{column} is {cell!r}, not a height in metres {told}"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8", "cp1252"])
def test_a_spreadsheet_s_unicode_text_is_read(tmp_path, encoding):
    text = "rider\tsession\tfile\nÄnne, sen.\t1\ta.gpx\n"
    (entry,) = read_event_folder(folder(tmp_path, text.encode(encoding), "a.gpx")).entries
    assert (entry.rider, entry.session, entry.fault) == ("Änne, sen.", "1", "")


@pytest.mark.parametrize(
    ("head", "told"),
    [
        ("rider,session,file,rider", "two columns rider"),
        ("rider,session,file,com_height_m,COM_height_m", "two columns com_height_m"),
        ("x" * 140_000 + ",rider", "cannot be read"),
    ],
)
def test_a_first_line_that_cannot_be_is_refused(tmp_path, head, told):
    with pytest.raises(EventError, match=told) as error:
        read_event_folder(folder(tmp_path, f"{head}\nAda,1,a.gpx,1,2\n"))
    assert "riders.csv, line " in error.value.where
